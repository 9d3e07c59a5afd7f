import { currentPolicy } from "../../src/programme/policy.js";
import { beliefAfter } from "../../src/science/belief.js";
import { exposureBetween, exposureCalendar } from "../../src/science/exposure.js";
import { exposureOver } from "../../src/science/journey.js";
import { strengthQuantileGPerL } from "../../src/science/strength-now.js";
import { underChanceOf } from "../../src/science/under-chance.js";
import { figuresAt, jarBelief } from "../../src/stock/forecast.js";
import { jarFacts, jarRows } from "../../src/stock/jar-facts.js";
import { DAY_MS } from "../../src/time/clock.js";
import { told } from "../support/moves.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, START_MS, settle, WARM, type World } from "../support/world.js";

describe("what happens to a solution that is carried about", () => {
	const at = { latitudeDeg: -1.5, altitudeM: 1200, climate: WARM, solutionVolumeL: 5, litAreaM2: 0.05 };
	const shade = exposureCalendar({ ...at, wall: "translucent", exposure: "shade" });
	const sun = exposureCalendar({ ...at, wall: "clearPlastic", exposure: "directSun" });
	const day = (n: number) => START_MS + n * DAY_MS;

	it("adds up over its places: 3 days of shade, 2 of sun and 4 of shade are what each does by itself", () => {
		const parts = [
			exposureBetween(shade, day(0), day(3)),
			exposureBetween(sun, day(3), day(5)),
			exposureBetween(shade, day(5), day(9)),
		];
		const journey = {
			calendar: shade,
			earlier: [
				{ calendar: shade, untilMs: day(3) },
				{ calendar: sun, untilMs: day(5) },
			],
		};
		const sum = exposureOver(journey, day(0), day(9));
		for (const part of ["equivalentDaysAt25C", "sunLossGPerL"] as const)
			expect(sum[part]).toBeCloseTo(
				parts.reduce((total, each) => total + each[part], 0),
				12,
			);
		// Looked at while it was still on its way, the later places don't count.
		expect(exposureOver(journey, day(0), day(2))).toEqual(exposureBetween(shade, day(0), day(2)));
	});

	it("is the same as ever where it never moved", () => {
		expect(exposureOver({ calendar: sun }, day(0), day(9))).toEqual(exposureBetween(sun, day(0), day(9)));
	});
});

onEachDatabase("a jar that was drawn from another", (kind) => {
	let world: World;
	beforeAll(async () => {
		world = await newWorld(kind);
		await settle(world);
	});
	beforeEach(() => world.clock.moveTo(START_MS));
	afterAll(() => world.remove());

	const draw = (from: string, into: object) =>
		world.moves.record(from, told(world, { kind: "drawn off", volumeMl: 1000, into: { keeperCode: "sup", ...into } }));
	const test = (code: string, reading: string) =>
		world.batches.recordTest(code, {
			testedAtMs: world.clock.nowMs(),
			testerId: null,
			kit: "comparator 0-5",
			sampleMl: 1,
			madeUpToL: 2,
			reading,
			taskId: null,
		});
	const factsOf = async (code: string) => {
		const ids = (await world.store.query<{ id: string }>("SELECT id FROM batch WHERE code = $1", [code])).map(({ id }) => id);
		return [...(await jarFacts(world.store, world.calendars, await jarRows(world.store, ids), new Map())).values()][0]!;
	};

	it("has strength, age and tests of it: in a like place its forecast is the same in every figure", async () => {
		await aBatch(world, "P1");
		world.clock.advance(3 * DAY_MS);
		await test("P1", "2");
		world.clock.advance(DAY_MS);
		await draw("P1", { code: "C1" });
		world.clock.advance(2 * DAY_MS);
		const [parent, child] = [await world.batches.detail("P1"), await world.batches.detail("C1")];
		expect(child.forecast.now).toEqual(parent.forecast.now);
		expect(child.forecast.retestAtMs).toBe(parent.forecast.retestAtMs);
		expect(child.tests.map(({ id }) => id)).toEqual(parent.tests.map(({ id }) => id));
	});

	it("learns nothing from a later test of the other jar, nor the other from its own", async () => {
		await aBatch(world, "P2");
		world.clock.advance(2 * DAY_MS);
		await draw("P2", { code: "C2" });
		world.clock.advance(3 * DAY_MS);
		const before = {
			parent: (await world.batches.detail("P2")).forecast.now,
			child: (await world.batches.detail("C2")).forecast.now,
		};
		await test("P2", "1");
		expect((await world.batches.detail("C2")).forecast.now).toEqual(before.child);
		expect((await world.batches.detail("P2")).forecast.now.medianGPerL).toBeLessThan(before.parent.medianGPerL - 0.5);
		world.clock.advance(DAY_MS);
		await test("C2", "2");
		expect((await world.batches.detail("P2")).tests).toHaveLength(1);
		expect((await world.batches.detail("C2")).tests).toHaveLength(1);
	});

	it("ages as its own place has it from the drawing on, and as the other's until then", async () => {
		await aBatch(world, "P3", { wall: "opaque", exposure: "indoors" });
		world.clock.advance(4 * DAY_MS);
		await draw("P3", { code: "C3", wall: "clearPlastic", exposure: "directSun", litAreaM2: 0.02 });
		const drawnAtMs = world.clock.nowMs();
		world.clock.advance(3 * DAY_MS);
		const facts = await factsOf("C3");
		const area = { latitudeDeg: -1.5, altitudeM: 1200, climate: WARM };
		const can = exposureCalendar({ ...area, wall: "opaque", exposure: "indoors", solutionVolumeL: 5, litAreaM2: 0 }, 5);
		const bottle = exposureCalendar(
			{ ...area, wall: "clearPlastic", exposure: "directSun", solutionVolumeL: 1, litAreaM2: 0.02 },
			5,
		);
		const [before, since] = [exposureBetween(can, START_MS, drawnAtMs), exposureBetween(bottle, drawnAtMs, world.clock.nowMs())];
		const exposure = {
			equivalentDaysAt25C: before.equivalentDaysAt25C + since.equivalentDaysAt25C,
			sunLossGPerL: before.sunLossGPerL + since.sunLossGPerL,
		};
		// The same belief asked another way: cell by cell over the grid, at the sum of both places' exposures.
		const belief = beliefAfter(facts.prior, { solution: facts.solution, strengthExponent: 2 }, []);
		const { now } = (await world.batches.detail("C3")).forecast;
		const expected = strengthQuantileGPerL(belief, exposure, 0.5);
		expect(Math.abs(now.medianGPerL / expected - 1)).toBeLessThan(0.005);
		const parent = (await world.batches.detail("P3")).forecast.now;
		expect(now.medianGPerL).toBeLessThan(parent.medianGPerL - 0.2);
	});

	it("carries age and tests over two drawings, and through a jar that is used again", async () => {
		await aBatch(world, "P4");
		await aBatch(world, "P5", { madeStrengthGPerL: 4 });
		world.clock.advance(2 * DAY_MS);
		await draw("P4", { code: "M4" });
		world.clock.advance(DAY_MS);
		await test("M4", "2");
		world.clock.advance(DAY_MS);
		await world.moves.record("M4", told(world, { kind: "drawn off", volumeMl: 600, into: { code: "C4", keeperCode: "vol" } }));
		const before = await world.batches.detail("C4");
		expect(before.tests).toHaveLength(1);
		expect(before.row.madeAtMs).toBe(START_MS);
		// The jar in the middle is emptied and filled with other bleach: what it held before is still what the last jar holds.
		await world.moves.record("M4", told(world, { kind: "spilt", volumeMl: 400 }));
		world.clock.advance(DAY_MS);
		await draw("P5", { code: "M4" });
		expect((await world.batches.detail("M4")).tests).toHaveLength(0);
		await test("M4", "1");
		const [after, now] = [await world.batches.detail("C4"), await factsOf("C4")];
		expect(after.tests.map(({ id }) => id)).toEqual(before.tests.map(({ id }) => id));
		const figures = figuresAt(underChanceOf(jarBelief(now)), now, await currentPolicy(world.store), before.forecast.now.atMs);
		expect(figures).toEqual(before.forecast.now);
	});

	it("isn't a second witness of one making: later jars of the generator learn from it once", async () => {
		await aBatch(world, "P6", { keeperCode: "sup" });
		world.clock.advance(3 * DAY_MS);
		await test("P6", "1");
		for (const code of ["C6a", "C6b", "C6c"]) await draw("P6", { code });
		world.clock.advance(DAY_MS);
		await aBatch(world, "N6", { keeperCode: "sup" });
		const withChildren = (await factsOf("N6")).prior;
		await world.store.work.run(async (tx) => {
			await tx.affected("UPDATE batch SET forecast = NULL WHERE code = 'N6'");
			await tx.affected("UPDATE batch SET keeper_id = NULL WHERE code IN ('C6a', 'C6b', 'C6c')");
		});
		expect((await factsOf("N6")).prior).toEqual(withChildren);
	});
});
