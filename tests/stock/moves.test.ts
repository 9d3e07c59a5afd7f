import { checkSums } from "../../src/stock/sums.js";
import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import { told } from "../support/moves.js";
import { databasesHere, onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, START_MS, settle, type World } from "../support/world.js";

onEachDatabase("the books of a jar", (kind) => {
	let world: World;
	let code: string;
	let made = 0;
	beforeAll(async () => {
		world = await newWorld(kind);
		await settle(world);
		const household = `INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity) VALUES ('hh', 'HH1', 'area', NULL, 5, 'well', 'clear')`;
		await world.store.work.run((tx) => tx.query(household));
	});
	// One database serves all: each test has a jar of 5 L of its own, made when it begins.
	beforeEach(async () => {
		world.clock.moveTo(START_MS);
		code = `J${++made}`;
		await aBatch(world, code);
		world.clock.advance(DAY_MS);
	});
	afterEach(async () => expect((await checkSums(world.store)).broken).toEqual([]));
	afterAll(() => world.remove());

	const record = (move: object, jar = code) => world.moves.record(jar, told(world, move));
	const jar = async (of = code) =>
		(
			await world.store.query<{ id: string; heldUl: number; state: string; keeperId: string | null; householdId: string | null }>(
				"SELECT id, held_ul, state, keeper_id, household_id FROM batch WHERE code = $1",
				[of],
			)
		)[0] as NonNullable<{ id: string; heldUl: number; state: string; keeperId: string | null; householdId: string | null }>;
	const lines = (of = code) =>
		world.store.query(
			"SELECT m.kind, m.volume_ul FROM stock_move m JOIN batch b ON b.id = m.jar_id WHERE b.code = $1 ORDER BY m.recorded_at_ms, m.volume_ul DESC, m.id",
			[of],
		);

	it("begin with what was made, and hold 5 L less 7.5 mL used and 200 mL spilt: 4792.5 mL", async () => {
		await record({ kind: "used", volumeMl: 7.5, note: "a dose of 20 L" });
		await record({ kind: "spilt", volumeMl: 200 });
		expect(await jar()).toMatchObject({ heldUl: 4_792_500, state: "in use" });
		expect(await lines()).toEqual([
			{ kind: "made", volumeUl: 5_000_000 },
			{ kind: "used", volumeUl: -7_500 },
			{ kind: "spilt", volumeUl: -200_000 },
		]);
	});

	it("say that a jar is empty when the last drop is out, and its test isn't asked for any more", async () => {
		const { forecast } = await world.batches.detail(code);
		world.clock.moveTo((forecast.retestAtMs as number) + HOUR_MS);
		await world.sweep.openDue();
		const { id } = await jar();
		const open = async () => (await world.tasks()).filter((task) => task.subjectId === id).map(({ state }) => state);
		expect(await open()).toEqual(["open"]);
		await record({ kind: "used", volumeMl: 5000 });
		await world.sweep.openDue();
		expect(await jar()).toMatchObject({ heldUl: 0, state: "empty" });
		expect(await open()).toEqual(["withdrawn"]);
		const [due] = await world.store.query("SELECT due_at_ms FROM due WHERE subject_id = $1", [id]);
		expect(due).toEqual({ dueAtMs: null });
	});

	it("put right what a count finds by a line of its own, down and up, but not above what was filled in", async () => {
		await record({ kind: "used", volumeMl: 1000 });
		await record({ kind: "counted", volumeMl: 3800 });
		expect(await jar()).toMatchObject({ heldUl: 3_800_000 });
		await record({ kind: "counted", volumeMl: 0 });
		expect(await jar()).toMatchObject({ heldUl: 0, state: "empty" });
		await record({ kind: "counted", volumeMl: 150 });
		expect(await jar()).toMatchObject({ heldUl: 150_000, state: "in use" });
		expect((await lines()).filter(({ kind: of }) => of === "corrected")).toHaveLength(3);
		await expect(record({ kind: "counted", volumeMl: 5000.01 })).rejects.toMatchObject({ code: "invalid-input" });
	});

	it("pour away what is left of a discarded jar, from which nothing is taken any more", async () => {
		await record({ kind: "used", volumeMl: 500 });
		await record({ kind: "discarded" });
		expect(await jar()).toMatchObject({ heldUl: 0, state: "discarded" });
		expect((await lines()).at(-1)).toEqual({ kind: "discarded", volumeUl: -4_500_000 });
		for (const move of [
			{ kind: "used", volumeMl: 1 },
			{ kind: "counted", volumeMl: 1 },
			{ kind: "discarded" },
			{ kind: "handed over", to: { keeperCode: "sup" } },
		])
			await expect(record(move)).rejects.toMatchObject({ code: "conflict", status: 409 });
	});

	it("hand a whole jar to another keeper or into a household without moving a drop", async () => {
		await record({ kind: "handed over", to: { keeperCode: "sup" } });
		expect(await jar()).toMatchObject({ keeperId: "sup", householdId: null, heldUl: 5_000_000 });
		world.clock.advance(HOUR_MS);
		await record({ kind: "handed over", to: { householdCode: "HH1" } });
		expect(await jar()).toMatchObject({ keeperId: null, householdId: "hh", heldUl: 5_000_000 });
		// It can't have been handed to somebody else before it came to where it is.
		await expect(
			record({ kind: "handed over", to: { keeperCode: "vol" }, atMs: world.clock.nowMs() - 2 * HOUR_MS }),
		).rejects.toMatchObject({ code: "conflict", problems: [{ at: "/at" }] });
	});

	it("draw bleach off into a new jar, and into an empty one, with both sides of each drawing", async () => {
		await record({ kind: "drawn off", volumeMl: 1500, into: { code: `${code}-a`, keeperCode: "sup" } });
		expect(await jar()).toMatchObject({ heldUl: 3_500_000 });
		expect(await jar(`${code}-a`)).toMatchObject({ heldUl: 1_500_000, state: "in use", keeperId: "sup" });
		expect(await lines(`${code}-a`)).toEqual([{ kind: "drawn in", volumeUl: 1_500_000 }]);
		await record({ kind: "used", volumeMl: 1500 }, `${code}-a`);
		world.clock.advance(DAY_MS);
		await record({ kind: "drawn off", volumeMl: 2000, into: { code: `${code}-a`, keeperCode: "sup" } });
		expect(await jar(`${code}-a`)).toMatchObject({ heldUl: 2_000_000, state: "in use" });
		expect(await jar()).toMatchObject({ heldUl: 1_500_000 });
	});

	it.each([
		["more than is held", { kind: "used", volumeMl: 5000.001 }, "more-than-held", "/volumeMl"],
		["nothing", { kind: "used", volumeMl: 0 }, "invalid-input", "/volumeMl"],
		["less than nothing", { kind: "spilt", volumeMl: -10 }, "invalid-input", "/volumeMl"],
		["what isn't a number", { kind: "used", volumeMl: Number.NaN }, "invalid-input", "/volumeMl"],
		["before the jar was filled", { kind: "used", volumeMl: 10, atMs: START_MS - 1 }, "time-before-made", "/at"],
		["in the future", { kind: "spilt", volumeMl: 10, atMs: START_MS + 2 * DAY_MS }, "time-in-future", "/at"],
		["by somebody unknown", { kind: "used", volumeMl: 10, byCode: "nobody" }, "unknown-subject", "/byCode"],
		["to an unknown keeper", { kind: "handed over", to: { keeperCode: "nobody" } }, "unknown-subject", "/to/keeperCode"],
		["to an unknown household", { kind: "handed over", to: { householdCode: "none" } }, "unknown-subject", "/to/householdCode"],
		[
			"to a point that isn't there",
			{ kind: "handed over", to: { productionPoint: "none" } },
			"unknown-subject",
			"/to/productionPoint",
		],
		[
			"more than is held, drawn off",
			{ kind: "drawn off", volumeMl: 6000, into: { code: "X1", keeperCode: "vol" } },
			"more-than-held",
			"/volumeMl",
		],
	])("refuse %s and keep nothing of it", async (_, move, refusal, at) => {
		await expect(record(move)).rejects.toMatchObject({ code: refusal, problems: [{ at }] });
		expect(await world.store.query("SELECT id FROM stock_move WHERE jar_id = $1 AND kind <> 'made'", [(await jar()).id])).toEqual(
			[],
		);
		expect(await world.store.query("SELECT id FROM batch WHERE code = 'X1'")).toEqual([]);
	});

	it("refuse to draw into a jar that isn't empty, or that has been discarded", async () => {
		const other = `${code}-full`;
		await aBatch(world, other);
		const into = { kind: "drawn off", volumeMl: 100, into: { code: other, keeperCode: "vol" } };
		await expect(record(into)).rejects.toMatchObject({ code: "conflict", problems: [{ at: "/into/code" }] });
		await record({ kind: "discarded" }, other);
		await expect(record(into)).rejects.toMatchObject({ code: "conflict", message: expect.stringContaining("discarded") });
		expect(await lines()).toEqual([]);
	});

	it("name each jar whose sum doesn't hold, with what it should be", async () => {
		await record({ kind: "used", volumeMl: 500 });
		await world.store.work.run((tx) => tx.affected("UPDATE batch SET held_ul = held_ul + 1000 WHERE code = $1", [code]));
		expect((await checkSums(world.store)).broken).toEqual([
			{ code, of: "jar", what: "what it holds isn't the sum of its moves", expected: 4500, found: 4501, unit: "mL" },
		]);
		await world.store.work.run((tx) => tx.affected("UPDATE batch SET held_ul = held_ul - 1000 WHERE code = $1", [code]));
	});
});

// SQLite has one writer: there is nobody to be quicker.
(databasesHere().includes("postgres") ? describe : describe.skip)("two who take from one jar at once on postgres", () => {
	let world: World;
	beforeAll(async () => {
		world = await newWorld("postgres");
		await settle(world);
		await aBatch(world, "BOTH");
		world.clock.advance(DAY_MS);
	});
	afterAll(() => world.remove());

	it("never take more than is in it: of 20 who take 400 mL of 5 L at once, 12 get it", async () => {
		const takers = Array.from({ length: 20 }, () => world.moves.record("BOTH", told(world, { kind: "used", volumeMl: 400 })));
		const outcomes = await Promise.allSettled(takers);
		expect(outcomes.filter(({ status }) => status === "fulfilled")).toHaveLength(12);
		for (const outcome of outcomes)
			if (outcome.status === "rejected") expect(outcome.reason).toMatchObject({ code: "more-than-held" });
		expect(await world.store.query("SELECT held_ul FROM batch WHERE code = 'BOTH'")).toEqual([{ heldUl: 200_000 }]);
		expect((await checkSums(world.store)).broken).toEqual([]);
	});

	it("draw, use, count and discard at once, and every sum holds", async () => {
		await aBatch(world, "ALL", { volumeL: 3 });
		world.clock.advance(HOUR_MS);
		const moves = Array.from({ length: 24 }, (_, i) => [
			told(world, { kind: "used", volumeMl: 70 + i }),
			told(world, { kind: "drawn off", volumeMl: 110, into: { code: `ALL-${i}`, keeperCode: "vol" } }),
			told(world, { kind: "counted", volumeMl: 100 * i }),
			told(world, i === 20 ? { kind: "discarded" } : { kind: "spilt", volumeMl: 5 }),
		]).flat();
		const outcomes = await Promise.allSettled(moves.map((move) => world.moves.record("ALL", move)));
		for (const outcome of outcomes)
			if (outcome.status === "rejected") expect(["more-than-held", "conflict"]).toContain(outcome.reason.code);
		expect((await checkSums(world.store)).broken).toEqual([]);
	});

	it("fill one empty jar once: of two who draw into it at once, one is told", async () => {
		for (const code of ["FROM-1", "FROM-2", "INTO"]) await aBatch(world, code);
		world.clock.advance(HOUR_MS);
		await world.moves.record("INTO", told(world, { kind: "spilt", volumeMl: 5000 }));
		const draw = (code: string) =>
			world.moves.record(code, told(world, { kind: "drawn off", volumeMl: 900, into: { code: "INTO", keeperCode: "vol" } }));
		const outcomes = await Promise.allSettled([draw("FROM-1"), draw("FROM-2")]);
		expect(outcomes.map(({ status }) => status).sort()).toEqual(["fulfilled", "rejected"]);
		expect(await world.store.query("SELECT held_ul FROM batch WHERE code = 'INTO'")).toEqual([{ heldUl: 900_000 }]);
		expect((await checkSums(world.store)).broken).toEqual([]);
	});
});
