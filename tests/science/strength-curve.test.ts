import fc from "fast-check";
import { strengthAfterGPerL } from "../../src/science/strength-curve.js";
import published from "../published/decay.json" with { type: "json" };

const { hoclFraction } = published.workedCase;
const solution = { initialStrengthGPerL: 5, hoclFraction, lossRateAt25CPerDay: 0.009402 };

describe("strength left after a time in store", () => {
	// Source: two-path closed form, computed independently; the reduced form leaves out its alkaline path, about 0.005 g/L here.
	it("is 4.1125 g/L for a 5 g/L, pH 9 batch after 21.15 equivalent days, within 0.01 g/L", () => {
		const { value, equivalentDaysAt25C } = published.alternatingDays;
		expect(Math.abs(strengthAfterGPerL(5, 1, solution, equivalentDaysAt25C, 0) - value)).toBeLessThan(0.01);
	});
	it("is the first strength after no time, and that less the light's loss if nothing else is lost", () => {
		expect(strengthAfterGPerL(5, 1, solution, 0, 0)).toBe(5);
		expect(strengthAfterGPerL(5, 0, solution, 100, 1.5)).toBeCloseTo(3.5, 12);
		expect(strengthAfterGPerL(5, 1, solution, 0, 1.5)).toBeCloseTo(3.5, 12);
	});
	it("runs four times as fast for twice the strength, in equivalent days", () => {
		const share = (s: number, days: number) => strengthAfterGPerL(s, 1, solution, days, 0) / s;
		expect(share(10, 10)).toBeCloseTo(share(5, 40), 12);
	});
	it("falls to the HOCl alone, never below, after endless time or endless light", () => {
		const hocl = 5 * hoclFraction;
		expect(strengthAfterGPerL(5, 1, solution, Number.POSITIVE_INFINITY, 0)).toBeCloseTo(hocl, 12);
		expect(strengthAfterGPerL(5, 1, solution, Number.POSITIVE_INFINITY, 1)).toBeCloseTo(hocl, 12);
		expect(strengthAfterGPerL(5, 1, solution, 10, Number.POSITIVE_INFINITY)).toBeCloseTo(hocl, 12);
		expect(strengthAfterGPerL(5, 0, solution, Number.POSITIVE_INFINITY, 1)).toBeCloseTo(4, 12);
		expect(strengthAfterGPerL(5, 1, solution, 1, 7)).toBeCloseTo(hocl, 12);
	});
	it("never rises with days, light or multiplier, and stays between the HOCl and the first strength", () => {
		const number = (max: number) => fc.double({ min: 0, max, noNaN: true });
		fc.assert(
			fc.property(
				fc.double({ min: 0.5, max: 15, noNaN: true }),
				fc.tuple(number(50), number(1000), number(10)),
				fc.tuple(number(5), number(50), number(2)),
				(s, [m, days, sun], [moreM, moreDays, moreSun]) => {
					const now = strengthAfterGPerL(s, m, solution, days, sun);
					const slack = 1e-12 * s; // rounding
					expect(now).toBeLessThanOrEqual(s + slack);
					expect(now).toBeGreaterThanOrEqual(s * hoclFraction - slack);
					const dark = strengthAfterGPerL(s, m, solution, days, 0);
					expect(strengthAfterGPerL(s, m + moreM, solution, days, 0)).toBeLessThanOrEqual(dark);
					expect(strengthAfterGPerL(s, m, solution, days + moreDays, 0)).toBeLessThanOrEqual(dark);
					expect(strengthAfterGPerL(s, m, solution, days, sun + moreSun)).toBeLessThanOrEqual(now + slack);
				},
			),
			{ seed: 21 },
		);
	});
	it("passes without a step from a loss rate of 1e-14 to one of 0", () => {
		const slow = { ...solution, lossRateAt25CPerDay: 1e-14 };
		const none = { ...solution, lossRateAt25CPerDay: 0 };
		expect(strengthAfterGPerL(5, 1, slow, 30, 1)).toBeCloseTo(strengthAfterGPerL(5, 1, none, 30, 1), 10);
	});
	it("refuses a strength of 0 g/L, negative days, light or multiplier, and any number that is not one", () => {
		for (const [s, m, days, sun] of [
			[0, 1, 1, 0],
			[5, -1, 1, 0],
			[5, 1, -1, 0],
			[5, 1, 1, -1],
			[5, Number.NaN, 1, 0],
			[5, 1, Number.NaN, 0],
		] as const) {
			expect(() => strengthAfterGPerL(s, m, solution, days, sun)).toThrow(RangeError);
		}
	});
});
