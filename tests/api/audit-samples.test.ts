import { simpleDraw } from "../../src/audit/sample/draw.js";
import { DAY_MS } from "../../src/time/clock.js";
import { inventedFacts, putFacts } from "../audit/coverage-facts.js";
import { onEachDatabase } from "../support/stores.js";
import { START_MS } from "../support/world.js";
import { type Served, served } from "./served.js";

onEachDatabase("an independent sample over HTTP", (kind) => {
	let api: Served;
	const NOW = START_MS + 7 * DAY_MS;
	beforeAll(async () => {
		api = await served(kind);
		api.world.clock.moveTo(NOW);
		await putFacts(api.world.store, inventedFacts(31, NOW));
	});
	afterAll(() => api.close());
	const draw = (over: object = {}) =>
		api.ask("POST", "/audit-samples", {
			body: { areaCode: "NAT", aims: { kind: "size", households: 12 }, auditorCodes: ["p0", "p1"], seed: "dice-1-2-3", ...over },
		});
	const visitsOf = async (id: string) => (await api.ask("GET", `/audit-samples/${id}/visits?limit=1000`)).body.items;

	it("is drawn with a seed, a list and a method from which the same is drawn again", async () => {
		const { status, body } = await draw();
		expect(status).toBe(201);
		expect(body).toMatchObject({
			areaCode: "NAT",
			seed: "dice-1-2-3",
			method: "sha256-order/1",
			frameHouseholds: 120,
			plan: { households: 12 },
		});
		const { text } = await api.ask("GET", `/audit-samples/${body.id}/frame`);
		const frame = text
			.trimEnd()
			.split("\n")
			.map((line) => line.split("\t"))
			.map(([areaCode, code]) => ({ areaCode: areaCode as string, code: code as string }));
		expect(frame).toHaveLength(120);
		const visits = await visitsOf(body.id);
		expect(visits.map(({ householdCode }: { householdCode: string }) => householdCode)).toEqual(
			simpleDraw("dice-1-2-3", frame, 12)
				.map(({ code }) => code)
				.sort(),
		);
		const again = await draw();
		expect(again.body.frameSha256).toBe(body.frameSha256);
		expect((await visitsOf(again.body.id)).map(({ householdCode }: { householdCode: string }) => householdCode)).toEqual(
			visits.map(({ householdCode }: { householdCode: string }) => householdCode),
		);
	});

	it("has visits by people who don't look after the household", async () => {
		const { body } = await draw({ aims: { kind: "size", households: 100 } });
		const keepers = await api.world.store.query<{ code: string; volunteerId: string | null }>(
			"SELECT code, volunteer_id FROM household",
		);
		const visits: { householdCode: string; auditorCode: string; outcome: string }[] = await visitsOf(body.id);
		expect(visits).toHaveLength(100);
		for (const { householdCode, auditorCode, outcome } of visits) {
			expect(outcome).toBe("open");
			expect(auditorCode).not.toBe(keepers.find(({ code }) => code === householdCode)?.volunteerId);
		}
		const alone = await draw({ aims: { kind: "size", households: 120 }, auditorCodes: ["p0"] });
		expect([alone.status, alone.body.code]).toEqual([422, "invalid-input"]);
		expect(alone.body.detail).toContain("its only auditor is the volunteer who looks after it");
	});

	it("is judged from what its visits found, corrections added and not written over", async () => {
		const aims = { kind: "classify", targetShare: 0.8, lowerShare: 0.3, maximumAlpha: 0.1, maximumBeta: 0.1 };
		const { body } = await draw({ aims, auditorCodes: ["sup"], reportedFrom: "2025-12-15", reportedTo: "2026-03-10" });
		const { lot, households } = body.plan;
		const visits: { householdCode: string }[] = await visitsOf(body.id);
		expect(visits).toHaveLength(households);
		const tell = (householdCode: string, found: object) =>
			api.ask("POST", `/audit-samples/${body.id}/visits/${householdCode}/result`, {
				body: { outcome: "seen", visitedAt: new Date(NOW + 1000).toISOString(), byPersonCode: "sup", ...found },
			});
		api.world.clock.moveTo(NOW + 60_000);
		for (const [i, { householdCode }] of visits.entries()) {
			const found =
				i < lot.decisionRule ? { freeChlorineMgPerL: 0.5, treated: true, containerSeen: true } : { outcome: "absent" };
			expect((await tell(householdCode, found)).status).toBe(201);
		}
		const findings = (await api.ask("GET", `/audit-samples/${body.id}/findings`)).body;
		expect(findings.verdict).toMatchObject({
			class: "reaches target",
			passed: lot.decisionRule,
			alpha: lot.alpha,
			beta: lot.beta,
		});
		expect(findings.visits).toMatchObject({ seen: lot.decisionRule, absent: households - lot.decisionRule, open: 0 });

		const first = visits[0]?.householdCode as string;
		const unexplained = await tell(first, { freeChlorineMgPerL: 0 });
		expect([unexplained.status, unexplained.body.code]).toEqual([409, "conflict"]);
		expect((await tell(first, { freeChlorineMgPerL: 0, because: "read the wrong tube" })).status).toBe(201);
		expect((await api.ask("GET", `/audit-samples/${body.id}/findings`)).body.verdict).toMatchObject({
			class: "open",
			passed: lot.decisionRule - 1,
		});
		const kept = await api.world.store.query(
			"SELECT id FROM audit_result WHERE visit_id IN (SELECT id FROM audit_visit WHERE sample_id = $1)",
			[body.id],
		);
		expect(kept).toHaveLength(households + 1);
	});

	it("refuses what can't be, and says what would be right", async () => {
		const refusal = async (over: object) => {
			const { status, body } = await draw(over);
			return [status, body.code, body.detail];
		};
		expect(await refusal({ aims: { kind: "size", households: 121 } })).toEqual([
			422,
			"sample-too-large",
			"A sample of 121 households is larger than the 120 there are: with that few, all of them can be visited.",
		]);
		expect(await refusal({ auditorCodes: ["p0", "nobody"] })).toEqual([
			422,
			"unknown-subject",
			"There is no person with the code nobody.",
		]);
		expect((await refusal({ reportedFrom: "2026-04-01", reportedTo: "2026-04-30" })).slice(0, 2)).toEqual([
			422,
			"time-in-future",
		]);
		expect((await refusal({ areaCode: "NONE" })).slice(0, 2)).toEqual([422, "unknown-area"]);
		const { body } = await draw({ auditorCodes: ["sup"] });
		const [visit] = await visitsOf(body.id);
		const keeper = await api.world.store.query<{ volunteerId: string | null }>(
			"SELECT volunteer_id FROM household WHERE code = $1",
			[visit.householdCode],
		);
		const tell = (found: object) =>
			api.ask("POST", `/audit-samples/${body.id}/visits/${visit.householdCode}/result`, {
				body: { outcome: "seen", visitedAt: new Date(api.world.clock.nowMs()).toISOString(), byPersonCode: "sup", ...found },
			});
		expect((await tell({ outcome: "refused", treated: true })).body).toMatchObject({ code: "invalid-input" });
		expect((await tell({ visitedAt: new Date(NOW + 40 * DAY_MS).toISOString() })).body).toMatchObject({ code: "time-in-future" });
		expect((await tell({ visitedAt: new Date(NOW - DAY_MS).toISOString() })).body).toMatchObject({ code: "invalid-input" });
		if (keeper[0]?.volunteerId)
			expect((await tell({ byPersonCode: keeper[0].volunteerId })).body).toMatchObject({
				code: "invalid-input",
				detail: "Who looks after a household doesn't audit it.",
			});
	});
});
