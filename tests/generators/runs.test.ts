import { MINUTE_MS } from "../../src/time/clock.js";
import { onEachDatabase } from "../support/stores.js";
import { newWorld, settle, type World } from "../support/world.js";
import { aGenerator, aRun, JAR, keepRun, wait } from "./given.js";

onEachDatabase("a run", (kind) => {
	let world: World;
	let generator = 0;
	const generatorId = () => `gen${generator}`;
	beforeAll(async () => {
		world = await newWorld(kind);
		await settle(world);
	});
	afterAll(() => world.remove());
	beforeEach(async () => {
		generator += 1;
		wait(world, 6 * 60 * MINUTE_MS);
		await aGenerator(world, { id: generatorId(), code: `G${generator}` });
	});
	const run = (over: Parameters<typeof aRun>[1] = {}) => aRun(world, { generatorId: generatorId(), ...over });
	const onFile = async () =>
		JSON.stringify([
			await world.store.query("SELECT id FROM generator_run ORDER BY id"),
			await world.store.query("SELECT id FROM batch ORDER BY id"),
			await world.store.query("SELECT id FROM ledger_entry ORDER BY id"),
		]);

	// Source: Faraday's law, 70.906 g/mol, two electrons: 1.3228 g/(A h), computed independently: 1.3228*0.6*3*8.4*1.25/5 = 5.000.
	it("of 75 min at 8.4 A through three cells registers 5 L of 5.00 g/L, as sure as a read current is", async () => {
		const { run: row, batchCode } = await keepRun(world, run());
		expect(row.code).toMatch(/^G\d+\.2603\d\d-\d{4}$/);
		const [batch] = await world.store.query("SELECT * FROM batch WHERE code = $1", [batchCode]);
		expect(batch).toMatchObject({
			madeAtMs: world.clock.nowMs(),
			volumeL: 5,
			madeStrengthGPerL: 5,
			madeStrengthLnSd: 0.2,
			saltGPerL: 30,
			generatorId: generatorId(),
		});
		expect(await world.store.query("SELECT batch_id FROM generator_run WHERE id = $1", [row.id])).toEqual([
			{ batchId: batch?.["id"] },
		]);
	});

	it("is one of so many whose batch is tested right after it, where the programme has it so", async () => {
		const rules = (generators: object) =>
			world.store.work.run((tx) =>
				tx.query(
					"INSERT INTO programme (id, name, policy, changed_at_ms) VALUES ('programme', 'Invented programme', $1, 0) ON CONFLICT (id) DO UPDATE SET policy = excluded.policy",
					[JSON.stringify({ generators })],
				),
			);
		await rules({ testRunsEvery: 3 });
		const testedAtOnce: boolean[] = [];
		for (let n = 0; n < 4; n++) {
			const endedAtMs = wait(world, 3 * 60 * MINUTE_MS);
			const { run: row } = await keepRun(world, run({ startedAtMs: endedAtMs - 75 * MINUTE_MS, endedAtMs }));
			const [due] = await world.store.query<{ dueAtMs: number }>(
				"SELECT due_at_ms FROM due WHERE kind = 'retest stored bleach' AND subject_id = $1",
				[row.batchId],
			);
			testedAtOnce.push(due?.dueAtMs === endedAtMs);
		}
		await rules({});
		expect(testedAtOnce).toEqual([true, false, false, true]);
	});

	it("whose current nobody read, or at which no gas was seen, is trusted less: 0.35 instead of 0.2", async () => {
		const first = await keepRun(world, run({ currentA: null }));
		const later = wait(world, 3 * 60 * MINUTE_MS);
		const second = await keepRun(world, run({ startedAtMs: later - 75 * MINUTE_MS, endedAtMs: later, gasSeen: false }));
		for (const { batchCode } of [first, second])
			expect(await world.store.query("SELECT made_strength_ln_sd FROM batch WHERE code = $1", [batchCode])).toEqual([
				{ madeStrengthLnSd: 0.35 },
			]);
	});

	it("makes its batch due for a test at once", async () => {
		const { run: row } = await keepRun(world, run());
		expect(
			await world.store.query("SELECT due_at_ms FROM due WHERE kind = 'retest stored bleach' AND subject_id = $1", [row.batchId]),
		).toEqual([{ dueAtMs: world.clock.nowMs() }]);
	});

	it("that is begun, and ended later, is one run", async () => {
		const begun = await keepRun(world, run({ startedAtMs: world.clock.nowMs(), endedAtMs: null, product: null, currentA: null }));
		expect(begun.batchCode).toBeNull();
		expect(await world.store.query("SELECT count(*) AS n FROM generator_run WHERE generator_id = $1", [generatorId()])).toEqual([
			{ n: 1 },
		]);
	});

	it.each<[string, (nowMs: number) => Parameters<typeof aRun>[1], string, string]>([
		["ends before it starts", (now) => ({ startedAtMs: now, endedAtMs: now - 60 * MINUTE_MS }), "invalid-input", "/endedAt"],
		["ends as it starts", (now) => ({ startedAtMs: now, endedAtMs: now }), "invalid-input", "/endedAt"],
		["lasts 49 hours", (now) => ({ startedAtMs: now - 49 * 60 * MINUTE_MS }), "invalid-input", "/endedAt"],
		["starts in the future", (now) => ({ startedAtMs: now + 1, endedAtMs: null, product: null }), "time-in-future", "/startedAt"],
		["ends in the future", (now) => ({ endedAtMs: now + 1 }), "time-in-future", "/endedAt"],
		["has 6 L in a vessel of 5 L", () => ({ waterL: 6 }), "invalid-input", "/waterL"],
		["has no water", () => ({ waterL: 0 }), "invalid-input", "/waterL"],
		["has 2 kg of salt in 5 L, which holds 1750 g", () => ({ saltG: 2000 }), "invalid-input", "/saltG"],
		["has no salt", () => ({ saltG: 0 }), "invalid-input", "/saltG"],
		["draws 20 A where 8.4 A are rated", () => ({ currentA: 20 }), "invalid-input", "/currentA"],
		["draws nothing", () => ({ currentA: 0 }), "invalid-input", "/currentA"],
		["reads 24 V at a 12 V battery", () => ({ restVoltageV: 24 }), "invalid-input", "/restVoltageV"],
		["reads -1 V", () => ({ restVoltageV: -1 }), "invalid-input", "/restVoltageV"],
		[
			"made 40 g/L by its figures",
			(now) => ({ startedAtMs: now - 1200 * MINUTE_MS, waterL: 2, saltG: 60 }),
			"invalid-input",
			"/endedAt",
		],
		["made 0.07 g/L by its figures", (now) => ({ startedAtMs: now - MINUTE_MS }), "invalid-input", "/endedAt"],
		[
			"is kept by nobody that there is",
			() => ({ product: { ...JAR, keeperCode: "nobody" } }),
			"unknown-subject",
			"/product/keeperCode",
		],
	])("that %s is refused, names the field, and nothing is written", async (_, over, code, pointer) => {
		const before = await onFile();
		await expect(keepRun(world, run(over(world.clock.nowMs())))).rejects.toMatchObject({ code, problems: [{ at: pointer }] });
		expect(await onFile()).toBe(before);
	});

	it("of a generator that there isn't is refused", async () => {
		await expect(keepRun(world, run({ generatorId: "none" }))).rejects.toMatchObject({ code: "unknown-subject" });
	});

	it.each<[string, number, number | null]>([
		["begins within another", -30, 30],
		["ends within another", -100, -30],
		["lies within another", -60, -30],
		["has another within it", -200, 0],
		["goes on since before another", -100, null],
	])("that %s is refused with 409, and nothing is written", async (_, from, until) => {
		await keepRun(world, run());
		const endedAtMs = world.clock.nowMs();
		wait(world, 60 * MINUTE_MS);
		const before = await onFile();
		const over = { startedAtMs: endedAtMs + from * MINUTE_MS, endedAtMs: until === null ? null : endedAtMs + until * MINUTE_MS };
		await expect(keepRun(world, run({ ...over, product: null }))).rejects.toMatchObject({
			code: "conflict",
			status: 409,
			problems: [{ at: "/startedAt" }],
		});
		expect(await onFile()).toBe(before);
	});

	it("that begins when another ends is kept", async () => {
		await keepRun(world, run());
		const startedAtMs = world.clock.nowMs();
		await keepRun(world, run({ startedAtMs, endedAtMs: wait(world, 75 * MINUTE_MS) }));
		expect(await world.store.query("SELECT count(*) AS n FROM generator_run WHERE generator_id = $1", [generatorId()])).toEqual([
			{ n: 2 },
		]);
	});

	it("is kept once where eight write overlapping ones at the same moment", async () => {
		const nowMs = world.clock.nowMs();
		const outcomes = await Promise.allSettled(
			Array.from({ length: 8 }, (_, i) =>
				keepRun(world, run({ startedAtMs: nowMs - (60 + i) * MINUTE_MS, endedAtMs: nowMs - i * MINUTE_MS })),
			),
		);
		expect(outcomes.filter(({ status }) => status === "fulfilled")).toHaveLength(1);
		expect(outcomes.flatMap((outcome) => (outcome.status === "rejected" ? [outcome.reason.code] : []))).toEqual(
			Array.from({ length: 7 }, () => "conflict"),
		);
		expect(await world.store.query("SELECT count(*) AS n FROM generator_run WHERE generator_id = $1", [generatorId()])).toEqual([
			{ n: 1 },
		]);
	});
});
