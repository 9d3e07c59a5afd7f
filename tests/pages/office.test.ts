import { AuditResults } from "../../src/audit/sample/results.js";
import { Samples } from "../../src/audit/sample/samples.js";
import { Sealer } from "../../src/ledger/sealer.js";
import { onEachDatabase } from "../support/stores.js";
import { unguarded } from "../support/unguarded-ledger.js";
import { putDistrict } from "./district.js";
import { putWork, type ServedSite, servedSite } from "./site.js";

onEachDatabase("the pages of the health office", (kind) => {
	let site: ServedSite;
	let own: { readonly cookie: string; readonly token: string };
	beforeAll(async () => {
		site = await servedSite(kind);
		await putWork(site.world);
		await putDistrict(site.world);
		own = await site.signedIn("off");
	}, 120_000);
	afterAll(() => site.close());

	const get = (path: string, headers: Record<string, string> = { cookie: own.cookie }) => site.shown(path, headers);

	it("tell each figure with its share, its interval and what it was counted from", async () => {
		const { text } = await get("/office?indicator=households-assigned");
		// 29 of the 34 households have a volunteer; the interval by hand. Source: Wilson (1927), by Brown, Cai and DasGupta (2001), equation 4
		expect(text).toContain("<td>85.3 % (69.9 to 93.6)</td><td>29 of 34</td><td>0</td>");
		expect(text).toMatch(/<svg[^>]* role="img"/);
		expect(text).toContain("A1 85 %");
	});

	it("lead to the same figures as files, and to the month's report", async () => {
		const { text } = await get("/office?month=2026-03");
		expect(text).toContain("/coverage/figures.csv?area=A1&#38;from=2026-03-01&#38;to=2026-03-31");
		expect(text).toContain("/reports/monthly.html?area=A1&#38;month=2026-03");
	});

	it("tell nothing of another district, nor anything to others", async () => {
		for (const path of ["/office", "/office?area=Z9", "/office/trends?area=Z9", "/office/failures", "/office/checks"])
			expect((await get(path)).text).not.toMatch(/Z9|Another district/);
		const supervisor = await site.signedIn("sup");
		expect((await get("/office", { cookie: supervisor.cookie })).status).toBe(403);
		expect((await get("/office", {})).status).toBe(303);
	});

	it("tell six months of a figure, and only those that have begun", async () => {
		const { text } = await get("/office/trends?indicator=households-assigned&month=2026-03");
		for (const month of ["2025-10", "2026-03"]) expect(text).toContain(`<th scope="row">${month}</th>`);
		expect(text).not.toContain('<th scope="row">2026-04</th>');
	});

	it("tell which messages failed, by channel, with the share of all that were sent", async () => {
		await site.world.store.work.run((tx) => tx.query("UPDATE message SET state = 'sent', channel = 'console'"));
		const [{ number }] = (await site.world.store.query<{ number: number }>("SELECT COUNT(*) AS number FROM message")) as [
			{ number: number },
		];
		await site.world.store.work.run((tx) =>
			tx.query("UPDATE message SET state = 'failed' WHERE id = (SELECT MIN(id) FROM message)"),
		);
		const { text } = await get("/office/failures");
		expect(text).toMatch(new RegExp(`<bdi class="code">console</bdi></th><td>[^<]*</td><td>1 of ${number}</td>`));
	});

	it("tell an incident with its time line, and none of another district", async () => {
		const { store, clock } = site.world;
		await store.work.run(async (tx) => {
			for (const [id, areaId, about] of [
				["incident-1", "area", "vol"],
				["incident-9", "elsewhere", "zed"],
			])
				await tx.query(
					`INSERT INTO incident (id, kind, cause_id, subject_kind, subject_id, area_id, happened_at_ms, opened_at_ms, state, found)
					 VALUES ($1, 'messages not delivered', $2, 'person', $3, $4, $5, $5, 'open', $6)`,
					[id, `cause of ${id}`, about, areaId, clock.nowMs(), JSON.stringify({ about, channel: "console" })],
				);
		});
		const list = await get("/office/failures");
		expect(list.text).toContain("Messages not delivered");
		expect(list.text).not.toContain("incident-9");
		const { text } = await get("/office/incidents/incident-1");
		expect(text).toContain("Time line");
		expect(text).toContain("channel: console");
		expect((await get("/office/incidents/incident-9")).status).toBe(404);
	});

	it("say that the ledger is whole, and give out its head in the name of whoever asked", async () => {
		await site.world.the(Sealer).seal();
		expect((await get("/office/checks")).text).toContain("The ledger is whole");
		const given = await fetch(`${site.address}/office/checks/head`, {
			method: "POST",
			redirect: "manual",
			headers: { cookie: own.cookie, "content-type": "application/x-www-form-urlencoded" },
			body: new URLSearchParams({ token: own.token }).toString(),
		});
		expect(given.headers.get("location")).toBe("/office/checks?given=1");
		expect(await site.world.store.query("SELECT how FROM ledger_anchor")).toEqual([{ how: "printed" }]);
		expect(await site.world.store.query("SELECT actor FROM ledger_entry WHERE action = 'head given out'")).toEqual([
			{ actor: "off" },
		]);
	});

	it("show what a sample was drawn from and what is decided by it", async () => {
		const aims = { kind: "classify", targetShare: 0.9, lowerShare: 0.5, maximumAlpha: 0.2, maximumBeta: 0.2 } as const;
		const id = await site.world
			.the(Samples)
			.draw({ areaCode: "A1", aims, method: { kind: "simple" }, seed: "a dozen dice", auditorCodes: ["office"] });
		expect((await get("/office/checks")).text).toContain(`/office/samples/${id}`);
		const open = await get(`/office/samples/${id}`);
		expect(open.text).toContain("Not decided yet");
		expect(open.text).toContain("a dozen dice");
		const visits = await site.world.store.query<{ code: string }>(
			"SELECT h.code FROM audit_visit v JOIN household h ON h.id = v.household_id WHERE v.sample_id = $1",
			[id],
		);
		const found = {
			outcome: "seen",
			visitedAtMs: site.world.clock.nowMs(),
			byPersonCode: "office",
			freeChlorineMgPerL: 0.5,
		} as const;
		for (const { code } of visits) await site.world.the(AuditResults).record(id, code, found);
		const { text } = await get(`/office/samples/${id}`);
		expect(text).toContain("Decision: the area reaches its target.");
		expect(text).toContain(`${visits.length} seen, 0 refused, 0 absent, 0 still open`);
	});

	it("name the entry that was changed behind the chain", async () => {
		await site.world.the(Sealer).seal();
		await site.world.store.work.run(async (tx) => {
			await unguarded(tx);
			await tx.query("UPDATE ledger_entry SET action = 'nothing happened' WHERE action = 'sample drawn'");
		});
		const { text } = await get("/office/checks");
		expect(text).toMatch(/\d+ things? in the ledger do(es)?n&#39;t agree with the chain/);
		expect(text).not.toContain("The ledger is whole");
	});
});
