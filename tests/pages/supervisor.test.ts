import { onEachDatabase } from "../support/stores.js";
import { putDistrict } from "./district.js";
import { putWork, type ServedSite, servedSite } from "./site.js";

onEachDatabase("the pages of a supervisor", (kind) => {
	let site: ServedSite;
	let own: { readonly cookie: string; readonly token: string };
	let volunteer: { readonly cookie: string };
	beforeAll(async () => {
		site = await servedSite(kind);
		await putWork(site.world);
		await putDistrict(site.world);
		own = await site.signedIn("sup");
		volunteer = await site.signedIn("vol");
	}, 120_000);
	afterAll(() => site.close());

	const get = (path: string, headers: Record<string, string> = { cookie: own.cookie }) => site.shown(path, headers);
	const post = async (path: string, fields: [string, string][]) => {
		const answer = await fetch(site.address + path, {
			method: "POST",
			redirect: "manual",
			headers: { cookie: own.cookie, "content-type": "application/x-www-form-urlencoded" },
			body: new URLSearchParams([["token", own.token], ...fields]).toString(),
		});
		return { status: answer.status, to: answer.headers.get("location") ?? "", text: await answer.text() };
	};
	const query = <T extends object = Record<string, unknown>>(statement: string, parameters: unknown[] = []) =>
		site.world.store.query<T>(statement, parameters);
	const volunteerOf = async (code: string) =>
		(await query<{ volunteerId: string | null }>("SELECT volunteer_id FROM household WHERE code = $1", [code]))[0]?.volunteerId;
	const pick = (code: string, volunteer: string | null): [string, string] => ["pick", JSON.stringify([code, volunteer])];

	it("show what was reminded of as late, and who has more households than she can take on", async () => {
		await site.world.store.work.run((tx) =>
			tx.query("UPDATE task SET ladder_step = 1 WHERE id = (SELECT MIN(id) FROM task WHERE kind = 'clean container')"),
		);
		const { text } = await get("/team");
		expect(text).toMatch(/<strong>1<\/strong><span>tasks are late/);
		expect(text).toContain("Clean H3-A");
		expect(text).toMatch(/Invented Amina.*\n?.*4 of 3.*too much/);
		expect(text).toMatch(/<strong>5<\/strong><span>households have no volunteer/);
	});

	it("note that she sees to a late task, in her own name", async () => {
		const [late] = await query<{ id: string }>("SELECT id FROM task WHERE ladder_step = 1");
		expect((await post(`/team/tasks/${late!.id}/seen`, [])).to).toBe("/team?is=seen");
		const [entry] = await query<{ actor: string }>("SELECT actor FROM ledger_entry WHERE action = 'task acknowledged'");
		expect(entry).toEqual({ actor: "sup" });
	});

	it("give the ticked households to one volunteer, all of them in her name, and tell each of the two people once", async () => {
		const { to } = await post("/team/map", [pick("H12", null), pick("H18", null), ["to", "chausiku"]]);
		expect(to).toBe("/team/map?done=2");
		expect([await volunteerOf("H12"), await volunteerOf("H18")]).toEqual(["chausiku", "chausiku"]);
		const entries = await query("SELECT actor FROM ledger_entry WHERE subject_id IN ('H12', 'H18') AND actor = 'sup'");
		expect(entries).toHaveLength(2);
		expect(await query("SELECT id FROM message WHERE recipient_id = 'chausiku'")).toHaveLength(1);
	});

	it("give none where somebody else has given one away meanwhile, and say with whom it is now", async () => {
		const { status, text } = await post("/team/map", [pick("H24", null), pick("H12", null), ["to", "baraka"]]);
		expect(status).toBe(409);
		expect(text).toContain("Somebody changed this meanwhile");
		expect(text).toContain("H12 (now with chausiku)");
		expect(await volunteerOf("H24")).toBeNull();
	});

	it("refuse more than a volunteer has said that she can take on, and keep the ticks", async () => {
		const { status, text } = await post("/team/map", [pick("H24", null), ["to", "amina"]]);
		expect(status).toBe(422);
		expect(text).toContain("can take on 3");
		expect(text).toMatch(/value="\[&#34;H24&#34;,null\]" checked/);
		await site.world.store.work.run((tx) => tx.query("UPDATE person SET language = 'fr' WHERE id = 'sup'"));
		const told = await post("/team/map", [pick("H24", null), ["to", "amina"]]);
		expect(told.text).toMatch(/amina: a \d+ foyers et peut en prendre 3; 1 de plus, c&#39;est trop\./);
		expect(told.text).not.toContain('<span lang="en"');
		await site.world.store.work.run((tx) => tx.query("UPDATE person SET language = 'en' WHERE id = 'sup'"));
	});

	it("show and touch nothing of another district: it is as if it weren't there", async () => {
		for (const path of ["/team", "/team/map", "/team/jars", "/team/plan", "/team/proposals"])
			expect((await get(path)).text).not.toMatch(/HZ|Another district|Somebody elsewhere/);
		expect((await get("/team/people/zed")).status).toBe(404);
		expect((await post("/team/map", [pick("HZ", null), ["to", "chausiku"]])).status).toBe(404);
		expect((await post("/team/map", [pick("H24", null), ["to", "zed"]])).status).toBe(404);
		expect((await post("/team/proposals", [["area", "Z9"]])).status).toBe(404);
		expect(await volunteerOf("HZ")).toBeNull();
	});

	it("are told in her own language, or in the one that she chose, and lead back to where she chose it", async () => {
		await site.world.store.work.run((tx) => tx.query("UPDATE person SET language = 'fr' WHERE id = 'sup'"));
		expect((await get("/team/jars")).text).toMatch(/<html lang="fr" dir="ltr">/);
		const chosen = await post("/language", [
			["language", "ar"],
			["from", "/team/jars"],
		]);
		expect([chosen.status, chosen.to]).toEqual([303, "/team/jars"]);
		const { text } = await get("/team/jars", { cookie: `${own.cookie}; jarwatch-language=ar` });
		expect(text).toMatch(/<html lang="ar" dir="rtl">/);
		for (const from of ["//elsewhere.example/", "/\\elsewhere.example", "https://elsewhere.example/"])
			expect(
				(
					await post("/language", [
						["language", "ar"],
						["from", from],
					])
				).to,
			).toBe("/");
		await site.world.store.work.run((tx) => tx.query("UPDATE person SET language = 'en' WHERE id = 'sup'"));
	});

	it.each([
		["fr-CD, en;q=0.8", "fr-CD"],
		["en;q=0.4, ar;q=0.9", "ar"],
		["zz, sw;q=0, pt-BR;q=0.1", "pt-BR"],
		["*", "en"],
	])("begin, before anybody is signed in, in what the browser asks for: %s (RFC 9110, 12.4.2)", async (accepted, language) => {
		expect((await get("/sign-in/staff", { "accept-language": accepted })).text).toContain(`<html lang="${language}"`);
	});

	it("are for supervisors alone", async () => {
		expect((await get("/team", { cookie: volunteer.cookie })).status).toBe(403);
		expect((await get("/team", {})).status).toBe(303);
	});

	it("work out a proposal, change a line of it, refuse a stale acceptance, and accept it as it is now", async () => {
		const { to } = await post("/team/proposals", [["area", "A1"]]);
		const state = async () =>
			(await query<{ state: string; version: number }>("SELECT state, version FROM assignment_proposal"))[0]!;
		for (let i = 0; (await state()).state === "solving" && i < 300; i++) await new Promise((done) => setTimeout(done, 100));
		const seen = (await state()).version;
		expect((await get(to)).text).toContain("waits for you");
		const changed = await post(`${to}/lines`, [
			["version", String(seen)],
			["household", "H24"],
			["to", "chausiku"],
		]);
		expect(changed.to).toBe(`${to}?changed=1`);
		const stale = await post(`${to}/accept`, [["version", String(seen)]]);
		expect([stale.status, stale.text.includes("Somebody changed this meanwhile")]).toEqual([412, true]);
		expect(await volunteerOf("H24")).toBeNull();
		const accepted = await post(`${to}/accept`, [["version", String(seen + 1)]]);
		expect(accepted.to).toMatch(/\?moved=\d+$/);
		expect(await volunteerOf("H24")).toBe("chausiku");
	});

	it("hand everything of a volunteer who is ill over to a named one, and give it back", async () => {
		const hers = async (id: string) =>
			Number(
				(await query<{ number: number }>("SELECT COUNT(*) AS number FROM household WHERE volunteer_id = $1", [id]))[0]!.number,
			);
		const before = [await hers("amina"), await hers("baraka")];
		const wrong = await post("/team/people/amina/leave", [
			["reason", "ill"],
			["from", "soon"],
			["to", "chausiku"],
		]);
		expect([wrong.status, await hers("amina")]).toEqual([422, before[0]]);
		await site.world.store.work.run((tx) => tx.query("UPDATE volunteer_capacity SET most_households = NULL"));
		const left = await post("/team/people/amina/leave", [
			["reason", "ill"],
			["from", ""],
			["until", ""],
			["to", "baraka"],
		]);
		expect(left.to).toBe(`/team/people/amina?handed=${before[0]}.0.0.0`);
		expect([await hers("amina"), await hers("baraka")]).toEqual([0, before[0]! + before[1]!]);
		expect((await get("/team/people/amina")).text).toContain("Back at work");
		await post("/team/people/amina/return", [["takeBack", "yes"]]);
		expect([await hers("amina"), await hers("baraka")]).toEqual(before);
	});

	it("note an absence that is to come with who takes over, and take it back before it begins", async () => {
		const noted = await post("/team/people/baraka/leave", [
			["reason", "on leave"],
			["from", "2027-03-05"],
			["until", "2027-03-09"],
			["to", "chausiku"],
		]);
		expect(noted.to).toBe("/team/people/baraka?noted=1");
		const shown = await get("/team/people/baraka?noted=1");
		expect(shown.text).toContain("It is carried out by itself when that day begins.");
		expect(shown.text).toMatch(
			/Will be away from Mar 5, 2027 until Mar 9, 2027\. Everything goes to <bdi class="code">chausiku<\/bdi>/,
		);
		const back = await post("/team/people/baraka/return", []);
		expect(back.to).toBe("/team/people/baraka?handed=0.0.0.0");
		expect((await get("/team/people/baraka")).text).not.toContain("Will be away");
		const [row] = await query<{ active: boolean | number }>("SELECT active FROM person WHERE id = 'baraka'");
		expect(Boolean(row!.active)).toBe(true);
	});

	it("say what a volunteer can take on: kept once, refused at its field, and not over what somebody else said meanwhile", async () => {
		const at = "/team/people/chausiku";
		const tagOn = (text: string) => /name="tag" value="([\w-]+)"/.exec(text)![1]!;
		const tag = tagOn((await get(at)).text);
		const said = (over: Record<string, string>, seen = tag): [string, string][] =>
			Object.entries({
				...{ tag: seen, mostHouseholds: "9", mostLitresPerDay: "120,5", mostHoursPerWeek: "", worksFrom: "08:00" },
				...{ worksUntil: "13:00", latitudeDeg: "-1.503", longitudeDeg: "37.004" },
				...over,
			});
		for (const [over, field, why] of [
			[{ mostHouseholds: "2.5" }, "mostHouseholds", "This isn&#39;t a figure that can be right here."],
			[{ mostHoursPerWeek: "many" }, "mostHoursPerWeek", "This isn&#39;t a figure that can be right here."],
			[{ worksUntil: "07:00" }, "worksUntil", "It must be later than the beginning."],
			[{ longitudeDeg: "" }, "longitudeDeg", "Give latitude and longitude, or neither."],
		] as const) {
			const wrong = await post(`${at}/capacity`, said(over));
			expect([wrong.status, wrong.text.includes(`id="${field}-wrong">${why}`)]).toEqual([422, true]);
		}
		expect((await post(`${at}/capacity`, said({}))).to).toBe(`${at}?saved=1`);
		const stale = await post(`${at}/capacity`, said({ mostHouseholds: "3" }));
		expect([stale.status, stale.text.includes("Somebody changed this meanwhile")]).toEqual([412, true]);
		const [row] = await query<Record<string, unknown>>(
			"SELECT most_households, most_litres_per_day, works_until FROM volunteer_capacity WHERE person_id = 'chausiku'",
		);
		expect(row).toEqual({ mostHouseholds: 9, mostLitresPerDay: 120.5, worksUntil: "13:00" });
		expect((await post("/team/people/zed/capacity", said({}))).status).toBe(404);
	});

	it("show a jar's curve with its interval as a picture and as a table, its tests and when it is tested again", async () => {
		const list = await get("/team/jars");
		expect(list.text).toContain("FIG-J12");
		const { text } = await get("/team/jars/FIG-J12");
		expect(text).toMatch(/<svg[^>]* role="img"/);
		expect(text).toContain("90 % interval");
		expect(text).toMatch(/Chance of less than \d/);
		expect(text).toContain("It hasn&#39;t been tested yet.");
		expect((await get("/team/jars/NONE")).status).toBe(404);
	});

	it("show the plan of the week: 8 L are wanted, so that a generator of 20 L runs once, for the one out of service too", async () => {
		const { text } = await get("/team/plan");
		expect(text).toMatch(/<strong>20 L<\/strong><span>to be made/);
		expect(text).toContain("out of service; G1 makes it");
		expect(text).toContain("also for G2");
		// 2.5 L in two days, as it was put on file.
		expect(text).toMatch(/Invented Amina.*\n?.*<td>Thu, Mar 5<\/td><td>2\.5 L<\/td>/);
	});
});
