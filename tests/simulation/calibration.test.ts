import { beliefAfter } from "../../src/science/belief.js";
import { comparatorWholeSteps } from "../../src/science/kits.js";
import { strengthTestOf } from "../../src/science/reading.js";
import { solutionFromRun } from "../../src/science/solution.js";
import { strengthAfterGPerL } from "../../src/science/strength-curve.js";
import { underChanceOf } from "../../src/science/under-chance.js";
import { calibratedOf, intervalOf, reliabilityOf } from "../../src/simulation/summary.js";
import { strengthReading } from "../../src/simulation/truth/people.js";
import { SeededRandomness } from "../../src/time/randomness.js";

describe("calibration where the truth is the model", () => {
	const { notes: _, ...solution } = solutionFromRun({ strengthGPerL: 5, saltGPerL: 30 });
	const prior = { medianInitialGPerL: 5, lnInitialSd: 0.2, medianRateMultiplier: 1, lnRateSd: 0.8 };
	const draws = new SeededRandomness(20);
	const dilution = { sampleMl: 1, madeUpToL: 2 };
	const points = Array.from({ length: 600 }, (_, i) => {
		const initialGPerL = prior.medianInitialGPerL * Math.exp(prior.lnInitialSd * draws.normal());
		const multiplier = Math.exp(prior.lnRateSd * draws.normal());
		const at = (days: number) => strengthAfterGPerL(initialGPerL, multiplier, solution, days, 0);
		const exposure = (days: number) => ({ equivalentDaysAt25C: days, sunLossGPerL: 0 });
		const tests = [2, 9].slice(0, i % 3).map((day) => {
			const reading = strengthReading(5, `V${i}`, "jar", day, at(day), dilution);
			return strengthTestOf(comparatorWholeSteps, dilution, Number(reading), exposure(day));
		});
		const belief = beliefAfter(prior, { solution, strengthExponent: 2 }, tests);
		const day = 12;
		const chanceBelow = underChanceOf(belief)(exposure(day), at(day));
		return {
			seed: 5,
			day,
			wall: "opaque",
			exposure: "indoors",
			tests: tests.length,
			trueGPerL: at(day),
			medianGPerL: 1,
			chanceBelow,
		} as const;
	});

	it("finds that the 90 % interval holds the truth in 87 to 93 % of 600 jars", () => {
		// Four standard deviations of a share of 0.9 of 600 are 0.049; the kit of the model misreads as often as its readers, nearly.
		const { heldShare, belowShare } = calibratedOf("all", points);
		expect(heldShare).toBeGreaterThan(0.86);
		expect(heldShare).toBeLessThan(0.94);
		expect(Math.abs(belowShare - 0.05)).toBeLessThan(0.036);
	});

	it("lies near the diagonal for intervals of every width", () => {
		for (const { saidShare, heldShare } of reliabilityOf(points)) expect(Math.abs(heldShare - saidShare)).toBeLessThan(0.075);
	});

	it("finds a belief that is too sure of itself, and one that expects too much", () => {
		const tooSure = points.map((point) => ({
			...point,
			chanceBelow: point.chanceBelow < 0.5 ? point.chanceBelow / 4 : 1 - (1 - point.chanceBelow) / 4,
		}));
		expect(calibratedOf("too sure", tooSure).heldShare).toBeLessThan(0.75);
		const tooHigh = points.map((point) => ({ ...point, chanceBelow: point.chanceBelow ** 3 }));
		expect(calibratedOf("too high", tooHigh).belowShare).toBeGreaterThan(0.2);
	});
});

describe("an interval over worlds", () => {
	it("is Student's: 3 values of mean 2 and standard deviation 1 give 2 ± 2.484", () => {
		// t(0.975, 2) = 4.3027, over √3: computed independently.
		const { mean, low, high } = intervalOf([1, 2, 3]);
		expect(mean).toBe(2);
		expect(high - mean).toBeCloseTo(2.484, 3);
		expect(mean - low).toBeCloseTo(2.484, 3);
	});
});
