import { describe, expect, it } from "@jest/globals";
import { strengthAfterGPerL } from "../../src/science/strength-curve.js";

const solution = { initialStrengthGPerL: 5, hoclFraction: 0.0246225, lossRateAt25CPerDay: 0.009402 };

describe("strength left after a time in store", () => {
	// Computed independently: RK4 of dO/dt = -kap·O at 0.009402 1/d; 14 days of 12 h 20 °C / 12 h 35 °C are 21.15 equivalent days.
	it("is 4.1125 g/L for a 5 g/L, pH 9 batch after 21.15 equivalent days, within 0.01 g/L of the two-path value", () => {
		expect(Math.abs(strengthAfterGPerL(5, 1, solution, 21.15, 0) - 4.1125)).toBeLessThan(0.01);
	});
	it("refuses a strength of 0 g/L and any number that is not one", () => {
		expect(() => strengthAfterGPerL(0, 1, solution, 1, 0)).toThrow(RangeError);
		expect(() => strengthAfterGPerL(5, Number.NaN, solution, 1, 0)).toThrow(RangeError);
	});
});
