import fc from "fast-check";
import { beliefAfter } from "../../src/science/belief.js";
import { comparatorWholeSteps } from "../../src/science/kits.js";
import { strengthTestOf } from "../../src/science/reading.js";
import { chanceUnder } from "../../src/science/strength-now.js";
import { underChanceOf } from "../../src/science/under-chance.js";

const solution = { initialStrengthGPerL: 5, hoclFraction: 0.0246, lossRateAt25CPerDay: 0.0094 };
const prior = { medianInitialGPerL: 5, lnInitialSd: 0.15, medianRateMultiplier: 1, lnRateSd: 1.25 };
const exposures = fc.record({
	equivalentDaysAt25C: fc.double({ min: 0, max: 120, noNaN: true }),
	sunLossGPerL: fc.oneof(fc.constant(0), fc.double({ min: 0, max: 3, noNaN: true })),
});

// Source: the cell-by-cell look at the same grid (strength-now.ts), which brute-force integration is held to.
describe("chance of being under a limit, row by row", () => {
	it.each([0, 1, 3])("agrees with the cell-by-cell chance to 0.002 after %i tests, with and without sun", (tests) => {
		const readings = [3, 2, 2].slice(0, tests).map((reading, i) =>
			strengthTestOf(comparatorWholeSteps, { sampleMl: 1, madeUpToL: 2 }, reading, {
				equivalentDaysAt25C: 1 + 6 * i,
				sunLossGPerL: 0,
			}),
		);
		const belief = beliefAfter(prior, { solution, strengthExponent: 2 }, readings);
		const fast = underChanceOf(belief);
		fc.assert(
			fc.property(exposures, fc.double({ min: 0.5, max: 6, noNaN: true }), (exposure, limit) => {
				expect(Math.abs(fast(exposure, limit) - chanceUnder(belief, exposure, limit))).toBeLessThan(0.002);
			}),
			{ numRuns: 300 },
		);
	});

	it("never falls as days or sun grow", () => {
		const fast = underChanceOf(beliefAfter(prior, { solution, strengthExponent: 2 }, []));
		fc.assert(
			fc.property(exposures, fc.double({ min: 0, max: 30, noNaN: true }), (exposure, more) => {
				const later = { ...exposure, equivalentDaysAt25C: exposure.equivalentDaysAt25C + more };
				const sunnier = { ...exposure, sunLossGPerL: exposure.sunLossGPerL + more / 10 };
				expect(fast(later, 3.5)).toBeGreaterThanOrEqual(fast(exposure, 3.5) - 1e-12);
				expect(fast(sunnier, 3.5)).toBeGreaterThanOrEqual(fast(exposure, 3.5) - 1e-9);
			}),
		);
	});
});
