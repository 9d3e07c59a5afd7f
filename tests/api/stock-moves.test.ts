import { DAY_MS } from "../../src/time/clock.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, START_MS } from "../support/world.js";
import { type Served, served } from "./served.js";

onEachDatabase("moves of bleach", (kind) => {
	let api: Served;
	let code: string;
	let made = 0;
	beforeAll(async () => {
		api = await served(kind);
	});
	beforeEach(async () => {
		api.world.clock.moveTo(START_MS);
		code = `M${++made}`;
		await aBatch(api.world, code);
		api.world.clock.advance(DAY_MS);
	});
	afterAll(() => api.close());
	const post = (body: unknown) => api.ask("POST", `/batches/${code}/moves`, { body });

	it("are kept with 201 and tell what the jar holds; its lines are listed in mL", async () => {
		const { status, body } = await post({ kind: "used", volumeMl: 7.5, byCode: "vol", note: "20 L of clear water" });
		expect([status, body]).toEqual([
			201,
			{ code, state: "in use", heldMl: 4992.5, keeperCode: "vol", householdCode: null, productionPoint: null, drawnFrom: null },
		]);
		const listed = await api.ask("GET", `/batches/${code}/moves`);
		expect(listed.body.items).toEqual([
			expect.objectContaining({ kind: "made", volumeMl: 5000, at: "2026-03-03T05:00:00.000Z" }),
			expect.objectContaining({ kind: "used", volumeMl: -7.5, byCode: "vol", note: "20 L of clear water" }),
		]);
	});

	it("answer a drawing with the jar that was filled", async () => {
		const { body } = await post({ kind: "drawn off", volumeMl: 800, into: { code: `${code}-a`, keeperCode: "sup" } });
		expect(body).toMatchObject({ code: `${code}-a`, heldMl: 800, keeperCode: "sup", drawnFrom: code });
		expect((await api.ask("GET", `/batches/${code}/stock`)).body).toMatchObject({ heldMl: 4200 });
		// Listed among the batches with its inherited strength and age.
		expect((await api.ask("GET", `/batches/${code}-a`)).body).toMatchObject({
			madeAt: "2026-03-03T05:00:00.000Z",
			madeStrengthGPerL: 5,
		});
	});

	it.each([
		["more than is held", { kind: "used", volumeMl: 5001 }, "/volumeMl", "more-than-held"],
		["0 mL", { kind: "used", volumeMl: 0 }, "/volumeMl", "invalid-input"],
		["-5 mL", { kind: "spilt", volumeMl: -5 }, "/volumeMl", "invalid-input"],
		["a count of less than nothing", { kind: "counted", volumeMl: -1 }, "/volumeMl", "invalid-input"],
		["a time before the making", { kind: "used", volumeMl: 5, at: "2026-03-03T04:59:59Z" }, "/at", "time-before-made"],
		["a time to come", { kind: "used", volumeMl: 5, at: "2026-03-09T00:00:00Z" }, "/at", "time-in-future"],
		["an unknown keeper", { kind: "handed over", to: { keeperCode: "nobody" } }, "/to/keeperCode", "unknown-subject"],
		["two places at once", { kind: "handed over", to: { keeperCode: "sup", householdCode: "HH" } }, "/to", "invalid-input"],
		["no place", { kind: "handed over", to: {} }, "/to", "invalid-input"],
		[
			"the jar itself to draw into",
			{ kind: "drawn off", volumeMl: 5, into: { code: "SELF", keeperCode: "vol" } },
			"/into/code",
			"conflict",
		],
		["a kind that isn't known", { kind: "drunk", volumeMl: 5 }, "/kind", "invalid-input"],
	])("with %s are refused, say where, and aren't kept", async (_, move, pointer, type) => {
		const body = JSON.parse(JSON.stringify(move).replace("SELF", code));
		const answer = await post(body);
		expect([409, 422]).toContain(answer.status);
		expect(answer.body).toMatchObject({ errors: [expect.objectContaining({ pointer })] });
		expect(answer.body.type).toContain(type);
		expect(
			(await api.ask("GET", `/batches/${code}/moves`)).body.items.filter((line: { kind: string }) => line.kind !== "made"),
		).toEqual([]);
	});

	it("of a jar that isn't there are refused with 404", async () => {
		expect((await api.ask("POST", "/batches/NONE/moves", { body: { kind: "discarded" } })).status).toBe(404);
	});

	it("add up: the check of all sums holds, and names the jar whose sum doesn't", async () => {
		await post({ kind: "used", volumeMl: 100 });
		expect((await api.ask("GET", "/stock/check")).body).toMatchObject({ holds: true, broken: [] });
		await api.world.store.work.run((tx) => tx.affected("UPDATE batch SET held_ul = 1 WHERE code = $1", [code]));
		const { body } = await api.ask("GET", "/stock/check");
		expect(body).toMatchObject({ holds: false, broken: [{ code, of: "jar", expected: 4900, found: 0.001, unit: "mL" }] });
		await api.world.store.work.run((tx) => tx.affected("UPDATE batch SET held_ul = 4900000 WHERE code = $1", [code]));
	});
});
