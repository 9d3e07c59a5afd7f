import { FollowUp } from "../../src/audit/incidents/follow-up.js";
import { onEachDatabase } from "../support/stores.js";
import { putDistrict } from "./district.js";
import { putIncident, putWork, type ServedSite, servedSite, withoutToken } from "./site.js";

onEachDatabase("following an incident up on pages", (kind) => {
	let site: ServedSite;
	beforeAll(async () => {
		site = await servedSite(kind);
		await putWork(site.world);
		await putDistrict(site.world);
	}, 120_000);
	afterAll(() => site.close());

	const signedIn = async (personId: string) => {
		const { cookie, token } = await site.signedIn(personId);
		return {
			get: (path: string) => site.shown(path, { cookie }),
			async post(path: string, fields: Record<string, string>, sent = token) {
				const answer = await fetch(site.address + path, {
					method: "POST",
					redirect: "manual",
					headers: { cookie, "content-type": "application/x-www-form-urlencoded" },
					body: new URLSearchParams({ token: sent, ...fields }).toString(),
				});
				return { status: answer.status, to: answer.headers.get("location"), text: withoutToken(await answer.text()) };
			},
		};
	};
	const versionOn = (text: string) => /name="version" value="(\d+)"/.exec(text)![1]!;
	const stateOf = async (id: string) =>
		(
			await site.world.store.query<{ state: string; closedBecause: string | null; closedBy: string | null }>(
				"SELECT state, closed_because, closed_by FROM incident WHERE id = $1",
				[id],
			)
		)[0];

	it.each([
		["the health office", "off", "/office/incidents"],
		["a supervisor", "sup", "/team/incidents"],
	])(
		"lets %s take one up, note what was found and close it with a reason, each told once more on its time line",
		async (_, who, at) => {
			const id = await putIncident(site.world, `by-${who}`);
			const her = await signedIn(who);
			const path = `${at}/${id}`;
			const shown = await her.get(path);
			expect(shown.text).toContain("I look into it");
			const taken = await her.post(`${path}/look-into`, { version: versionOn(shown.text) });
			expect([taken.status, taken.to]).toEqual([303, `${path}?is=taken`]);
			const after = await her.get(`${path}?is=taken`);
			expect(after.text).toContain("Noted: you look into it.");
			expect(after.text).not.toContain("I look into it");
			const noted = await her.post(`${path}/notes`, { version: versionOn(after.text), note: "the lid was broken" });
			expect(noted.to).toBe(`${path}?is=noted`);
			const third = await her.get(path);
			expect(third.text).toContain("the lid was broken");
			const closed = await her.post(`${path}/close`, { version: versionOn(third.text), because: "a new lid was brought" });
			expect(closed.to).toBe(`${path}?is=closed`);
			expect(await stateOf(id)).toEqual({ state: "closed", closedBecause: "a new lid was brought", closedBy: who });
			expect((await her.get(path)).text).not.toContain('name="because"');
			const steps = await site.world.store.query<{ action: string; actor: string }>(
				"SELECT action, actor FROM ledger_entry WHERE subject_kind = 'incident' AND subject_id = $1 ORDER BY id",
				[id],
			);
			expect(steps.map(({ action, actor }) => [action, actor])).toEqual([
				["incident looked into", who],
				["incident noted", who],
				["incident closed", who],
			]);
		},
	);

	it("shows whoever was overtaken what stands now, keeps her words in the field, and does nothing of hers", async () => {
		const id = await putIncident(site.world, "overtaken");
		const her = await signedIn("off");
		const path = `/office/incidents/${id}`;
		const version = versionOn((await her.get(path)).text);
		await site.world.the(FollowUp).note(id, "somebody was there already", "sup");
		const late = await her.post(`${path}/close`, { version, because: "nobody was there" });
		expect(late.status).toBe(412);
		expect(late.text).toContain("Somebody changed this meanwhile");
		expect(late.text).toContain("somebody was there already");
		expect(late.text).toContain(">nobody was there</textarea>");
		expect((await stateOf(id))?.state).toBe("open");
		const again = await her.post(`${path}/close`, { version: versionOn(late.text), because: "nobody was there" });
		expect(again.status).toBe(303);
		const twice = await her.post(`${path}/close`, { version: versionOn(late.text), because: "once more" });
		expect([twice.status, (await stateOf(id))?.closedBecause]).toEqual([409, "nobody was there"]);
	});

	it("says beside its field what is wrong with a note that says nothing, with 422", async () => {
		const id = await putIncident(site.world, "nothing-said");
		const her = await signedIn("sup");
		const path = `/team/incidents/${id}`;
		const version = versionOn((await her.get(path)).text);
		const answer = await her.post(`${path}/notes`, { version, note: " ? " });
		expect(answer.status).toBe(422);
		expect(answer.text).toMatch(
			/id="note-wrong">3 to 500 characters would be right\.<\/span><textarea id="note"[^>]*aria-invalid="true"/,
		);
		expect(answer.text).not.toContain('id="because-wrong"');
	});

	it("tells instants that were found as days and times of day", async () => {
		const id = await putIncident(site.world, "found-at");
		const found = { about: "H1-A", freeChlorineMgPerL: 0.1, foundAtMs: Date.UTC(2026, 2, 2, 7, 5) };
		await site.world.store.work.run((tx) =>
			tx.query("UPDATE incident SET found = $1 WHERE id = $2", [JSON.stringify(found), id]),
		);
		const { text } = await (await signedIn("off")).get(`/office/incidents/${id}`);
		expect(text).toMatch(/about: H1-A, freeChlorineMgPerL: 0\.1, found: Mon, Mar 2, \d\d:05/);
		expect(text).not.toContain(String(found.foundAtMs));
	});

	it("is refused without the form's token, to volunteers, and of an incident of another district", async () => {
		const id = await putIncident(site.world, "refused");
		const elsewhere = await putIncident(site.world, "elsewhere-1", "elsewhere");
		const [sup, off, vol] = [await signedIn("sup"), await signedIn("off"), await signedIn("vol")];
		expect((await sup.post(`/team/incidents/${id}/close`, { version: "0", because: "by another site" }, "")).status).toBe(403);
		expect((await vol.post(`/team/incidents/${id}/close`, { version: "0", because: "not hers" })).status).toBe(403);
		expect((await off.post(`/team/incidents/${id}/close`, { version: "0", because: "not hers" })).status).toBe(403);
		expect((await sup.get(`/team/incidents/${elsewhere}`)).status).toBe(404);
		expect((await off.post(`/office/incidents/${elsewhere}/close`, { version: "0", because: "not hers" })).status).toBe(404);
		expect((await sup.get("/team/incidents")).text).not.toContain(elsewhere);
		expect([(await stateOf(id))?.state, (await stateOf(elsewhere))?.state]).toEqual(["open", "open"]);
	});

	it("is led to from the overview, which counts those that aren't closed in her areas", async () => {
		const her = await signedIn("sup");
		const [{ number } = { number: 0 }] = await site.world.store.query<{ number: number }>(
			"SELECT COUNT(*) AS number FROM incident WHERE state <> 'closed' AND area_id = 'area'",
		);
		expect((await her.get("/team")).text).toMatch(
			new RegExp(`<a href="/team/incidents"><strong>${number}</strong><span>incidents? (is|are) open`),
		);
	});
});
