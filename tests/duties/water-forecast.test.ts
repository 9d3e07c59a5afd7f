import { chanceUnder, foreseenResidual, hoursUntilChanceUnder, residualBelief } from "../../src/science/residual-belief.js";
import { DAY_MS, HOUR_MS, MINUTE_MS } from "../../src/time/clock.js";
import { CHECK_WATER } from "../../src/water/kinds.js";
import { onEachDatabase } from "../support/stores.js";
import { newWorld, type World } from "../support/world.js";
import { aHousehold, type Facts, factsOf } from "./water-world.js";

describe("the instant at which the residual has probably fallen", () => {
	const belief = residualBelief("cloudy", [{ doseMgPerL: 3.75, hours: 4, temperatureC: 26, residualMgPerL: 0.6 }]);
	const fill = { doseMgPerL: 3.75, temperatureC: 26, limitMgPerL: 0.2 };

	it("is the 5 % point of the hours that the belief foresees, and the chance passes 5 % there", () => {
		const hours = hoursUntilChanceUnder(belief, fill, 0.05);
		expect(hours).toBe(foreseenResidual(belief, { ...fill, hours: 1 }).hoursUntilBelow.low);
		expect(chanceUnder(belief, { ...fill, hours: hours + 0.01 })).toBeGreaterThanOrEqual(0.05);
		expect(chanceUnder(belief, { ...fill, hours: Math.max(0.5, hours - 0.05) })).toBeLessThan(0.06);
	});

	it("comes later for a smaller tolerated chance of being right, and sooner for less bleach", () => {
		expect(hoursUntilChanceUnder(belief, fill, 0.5)).toBeGreaterThan(hoursUntilChanceUnder(belief, fill, 0.05));
		expect(hoursUntilChanceUnder(belief, { ...fill, doseMgPerL: 2.5 }, 0.5)).toBeLessThan(
			hoursUntilChanceUnder(belief, fill, 0.5),
		);
		expect(() => hoursUntilChanceUnder(belief, fill, 0)).toThrow(RangeError);
	});
});

onEachDatabase("stored water between two refills", (kind) => {
	let world: World;
	let facts: Facts;
	beforeEach(async () => {
		world = await newWorld(kind);
		await aHousehold(world, { turbidity: "cloudy" });
		facts = factsOf(world);
	});
	afterEach(() => world.remove());

	/** A first fill of 3.75 mg/L that read 1.5 mg/L after its wait has taught what the water takes: about 2.2 mg/L. */
	async function learned(): Promise<void> {
		await facts.dose(15);
		world.clock.advance(30 * MINUTE_MS);
		await facts.read(1.5);
		world.clock.advance(8 * DAY_MS);
	}

	it("is read when less than 0.2 mg/L are left with a chance of 5 %, before the next refill, and says so", async () => {
		await learned();
		const taken = await facts.dose(15, { into: "new water" });
		const dueAtMs = taken.nextCheckAtMs as number;
		const hours = (dueAtMs - world.clock.nowMs()) / HOUR_MS;
		expect(hours).toBeGreaterThan(0.5);
		expect(hours).toBeLessThan(24);
		world.clock.moveTo(dueAtMs + MINUTE_MS);
		await world.sweep.openDue();
		const task = (await facts.open()).find((one) => one.kind === CHECK_WATER);
		const brief = JSON.parse(task?.brief ?? "{}");
		expect(brief).toMatchObject({ reason: "low", leastMgPerL: 0.2 });
		expect(brief.chancePercent).toBeGreaterThanOrEqual(5);
		expect(world.kinds.named(CHECK_WATER).instructions(brief).why).toMatch(
			/the chance that less than 0\.2 mg\/L is left has reached \d+ %/,
		);
		// Nobody waits for it: the programme's usual ladder, not that of hours.
		expect(world.kinds.named(CHECK_WATER).isUrgent(brief)).toBe(false);
	});

	it("isn't asked about again within seven days of a reading only because it is forecast to be low", async () => {
		await learned();
		world.clock.advance(-7 * DAY_MS);
		const taken = await facts.dose(15, { into: "new water" });
		expect((taken.nextCheckAtMs as number) - world.clock.nowMs()).toBeGreaterThan(DAY_MS);
	});

	// 1.5 mL/L of 5 g/L for 20 L are 30 mL; twice that where the water can't be made clear (computed independently).
	it("is dosed as its household's protocol says in the text that tells a volunteer her jar's dose", async () => {
		await facts.follow("field-card");
		world.clock.moveTo((await world.batches.detail("B1")).forecast.retestAtMs as number);
		await world.sweep.openDue();
		const task = (await facts.open()).find((one) => one.kind === "retest stored bleach");
		const reading = Math.round(4.6 / JSON.parse(task?.brief ?? "{}").waterL);
		await facts.text(`${task?.code} ${reading}`);
		const { text: name, fill } = await facts.last();
		expect(name).toBe("dose.told");
		const [, clear, cloudy] = /^20 L ([\d.]+)\/([\d.]+) mL$/.exec(String(fill.doses)) ?? [];
		expect(Math.abs(Number(clear) * Number(fill.strengthGPerL) - 150)).toBeLessThan(6);
		expect(Math.abs(Number(cloudy) / Number(clear) - 2)).toBeLessThan(0.05);
	});
});
