import { chanceOfTooLittle, DAY_TO_DAY, DEMAND_DAY_LN_SD, DOSE_LN_SD, ownDoseTimes } from "../../src/science/own-dose.js";
import { residualMgPerL } from "../../src/science/residual.js";
import { residualBelief } from "../../src/science/residual-belief.js";
import { SeededRandomness } from "../../src/time/randomness.js";

const reading = (hours: number, residual: number, doseMgPerL = 1.875) => ({
	...{ doseMgPerL, hours, temperatureC: 25, residualMgPerL: residual },
});
const question = {
	...{ plannedMgPerL: 1.875, temperatureC: 25, hours: 24, leastMgPerL: 0.2, mostMgPerL: 5, tolerance: 0.1, mostTimes: 2 },
};
const timesOf = (readings: ReturnType<typeof reading>[], over: Partial<typeof question> = {}) =>
	ownDoseTimes({ ...question, ...over, belief: residualBelief("clear", readings, DAY_TO_DAY) });

describe("the chance that a dose leaves too little", () => {
	it("is what 40 000 days of drawn demands of one household find, dosed with 1.875 mg/L, to 0.01", () => {
		const nodes = [{ demandMgPerL: 0.9, kPerHourAt25C: 0.04, weight: 1 }];
		const draws = new SeededRandomness(3);
		const days = 40_000;
		let under = 0;
		for (let day = 0; day < days; day++) {
			const demandMgPerL = 0.9 * Math.exp(DEMAND_DAY_LN_SD * draws.normal());
			const doseMgPerL = 1.875 * Math.exp(DOSE_LN_SD * draws.normal());
			if (residualMgPerL({ doseMgPerL, demandMgPerL, kPerHour: 0.04 }, 24) < 0.2) under++;
		}
		const chance = chanceOfTooLittle({ nodes }, { doseMgPerL: 1.875, temperatureC: 25, hours: 24, leastMgPerL: 0.2 });
		// Four standard deviations of the draws are 0.01; three points over the dose add less than that.
		expect(Math.abs(chance - under / days)).toBeLessThan(0.01);
		expect(chance).toBeGreaterThan(0.2);
		expect(chance).toBeLessThan(0.8);
	});

	// Source: Wilhelm et al. 2018, J Water Health 16:112, abstract: 1.88 mg/L leaves 0.2 mg/L at 24 h in 82-87 % of clear water, 3.75 mg/L
	// at 8 h in 83 % of water from unimproved sources.
	it("is what was found in households of which nothing is known: 13 to 18 % of clear water a day after 1.875 mg/L, 17 % of cloudy after 8 h", () => {
		const fill = { temperatureC: 25, leastMgPerL: 0.2 };
		const clear = chanceOfTooLittle(residualBelief("clear", [], DAY_TO_DAY), { ...fill, doseMgPerL: 1.875, hours: 24 });
		expect(clear).toBeGreaterThan(0.13);
		expect(clear).toBeLessThan(0.18);
		const cloudy = chanceOfTooLittle(residualBelief("cloudy", [], DAY_TO_DAY), { ...fill, doseMgPerL: 3.75, hours: 8 });
		expect(Math.abs(cloudy - 0.17)).toBeLessThan(0.03);
	});

	it("never falls with the hours, and never rises with the dose", () => {
		const { nodes } = residualBelief("cloudy", [reading(2, 0.8, 3.75)], DAY_TO_DAY);
		const at = (doseMgPerL: number, hours: number) =>
			chanceOfTooLittle({ nodes }, { doseMgPerL, temperatureC: 25, hours, leastMgPerL: 0.2 });
		for (const hours of [1, 4, 12, 24]) {
			expect(at(3.75, hours + 1)).toBeGreaterThanOrEqual(at(3.75, hours));
			expect(at(4.5, hours)).toBeLessThanOrEqual(at(3.75, hours));
		}
		expect(at(0.2, 24)).toBeCloseTo(1, 6);
	});
});

describe("a household's own dose", () => {
	it("stays the protocol's where its readings leave 1.4 mg/L after an hour and 0.8 after a day", () => {
		expect(timesOf([reading(1, 1.4), reading(24, 0.8), reading(2, 1.4), reading(20, 0.9)])).toBe(1);
	});

	it("is doubled at the most, as the household scheme doubles it (Lantagne 2008), where nothing is left after some hours", () => {
		expect(timesOf([reading(4, 0), reading(6, 0), reading(3, 0.1)])).toBe(2);
		expect(timesOf([reading(4, 0), reading(6, 0), reading(3, 0.1)], { mostTimes: 1.5 })).toBe(1.5);
	});

	it("lies between where some of it is left, and is less where more may be too little", () => {
		const some = [reading(2, 1), reading(20, 0.2), reading(4, 0.8)];
		expect(timesOf(some)).toBeGreaterThan(1);
		expect(timesOf(some)).toBeLessThanOrEqual(2);
		expect(timesOf(some, { tolerance: 0.4 })).toBeLessThanOrEqual(timesOf(some));
		expect(timesOf(some, { hours: 8 })).toBeLessThanOrEqual(timesOf(some));
	});

	it("keeps under 5 mg/L where the water may take hardly anything, however little it leaves in the end", () => {
		// Nothing is taken at once and half of it goes in an hour: 4 mg/L twice would be 8 mg/L half an hour after dosing.
		const fast = Array.from({ length: 4 }, () => [reading(0.5, 4, 4), reading(8, 0, 4)]).flat();
		expect(timesOf(fast, { plannedMgPerL: 4 })).toBeLessThanOrEqual(1.25);
	});

	it.each([
		["a planned dose of 0.1 mg/L", { plannedMgPerL: 0.1 }],
		["three times the dose", { mostTimes: 3 }],
		["no tolerance", { tolerance: 0 }],
		["a limit over the guideline value", { mostMgPerL: 6 }],
	])("is refused for %s", (_, over) => {
		expect(() => timesOf([reading(1, 1)], over)).toThrow(RangeError);
	});
});

describe("what days differ by", () => {
	it("leaves a belief wider: one reading tells less of what lasts than it tells of that day", () => {
		const readings = [reading(1, 0.3), reading(2, 0.2)];
		const width = ({ demandMgPerL: { low, high } }: ReturnType<typeof residualBelief>) => high - low;
		expect(width(residualBelief("clear", readings, DAY_TO_DAY))).toBeGreaterThan(width(residualBelief("clear", readings)));
	});
});
