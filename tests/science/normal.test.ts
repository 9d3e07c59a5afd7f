import { normalCdf, normalQuantile, upperTail } from "../../src/science/normal.js";
import published from "../published/belief.json" with { type: "json" };
import { expectNear } from "./near.js";

describe("standard normal distribution", () => {
	it("agrees with the handbook's table within 1e-12", () => {
		for (const [z, below, tolerance] of published.standardNormal.below as [number, number, number][]) {
			expectNear(normalCdf(z), below, tolerance);
			expectNear(upperTail(-z), below, tolerance);
		}
	});
	it("has the tabulated tail within 1e-12 of the library's from z = -15 to 15, and within 3e-7 of its size out to z = 37", () => {
		let furthest = 0;
		let furthestShare = 0;
		for (let z = -15; z < 37; z += 0.000917) {
			const exact = normalCdf(-z);
			furthest = Math.max(furthest, Math.abs(upperTail(z) - exact));
			furthestShare = Math.max(furthestShare, Math.abs(upperTail(z) / exact - 1));
		}
		expect(furthest).toBeLessThan(1e-12);
		expect(furthestShare).toBeLessThan(3e-7);
	});
	it("ends at 0 and 1 for endless z, and tells no number from NaN", () => {
		expect(upperTail(Number.POSITIVE_INFINITY)).toBe(0);
		expect(upperTail(Number.NEGATIVE_INFINITY)).toBe(1);
		expect(upperTail(Number.NaN)).toBeNaN();
	});
	it("gives back by the quantile what the distribution took, from 0.001 to 0.999", () => {
		for (let chance = 0.001; chance < 1; chance += 0.0371) expectNear(normalCdf(normalQuantile(chance)), chance, 1e-13);
	});
});
