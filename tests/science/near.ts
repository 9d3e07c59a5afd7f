import { expect } from "@jest/globals";

/** Expects a value to lie within an absolute tolerance of the published one, the ends included but for rounding. */
export function expectNear(actual: number | null, published: number, tolerance: number): void {
	expect(Math.abs((actual ?? Number.NaN) - published)).toBeLessThanOrEqual(tolerance * (1 + 1e-9));
}
