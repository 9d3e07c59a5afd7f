import { normalTwoSidedP } from "./tail-chance.js";
import { valueWithin } from "./valid-range.js";

/** Result of a runs test. */
export interface RunsTest {
	readonly runs: number;
	readonly expectedRuns: number;
	readonly z: number;
	readonly twoSidedP: number;
}

/**
 * Wald-Wolfowitz runs test about a cutoff: too few runs cluster, too many alternate.
 *
 * @param values 2 or more finite numbers in the order they were taken
 * @param cutoff values at or above it form one side
 * @returns runs, what chance alone would give, z without continuity correction and p; null when all lie on one side
 * @throws RangeError for fewer than 2 values or one that is no finite number
 * Source: Wald & Wolfowitz 1940.
 */
export function runsTest(values: readonly number[], cutoff: number): RunsTest | null {
	const n = valueWithin("values in the series", values.length, 2, 1e6);
	const above = values.map((value) => valueWithin("value", value, -Number.MAX_VALUE, Number.MAX_VALUE) >= cutoff);
	const upper = above.filter(Boolean).length;
	const lower = n - upper;
	if (upper === 0 || lower === 0) return null;
	const runs = above.reduce((count, side, i) => (i > 0 && side !== above[i - 1] ? count + 1 : count), 1);
	const pairs = 2 * upper * lower;
	const expectedRuns = pairs / n + 1;
	const variance = (pairs * (pairs - n)) / (n * n * (n - 1));
	// Two values, one on each side, always make two runs.
	const z = variance === 0 ? 0 : (runs - expectedRuns) / Math.sqrt(variance);
	return { runs, expectedRuns, z, twoSidedP: normalTwoSidedP(z) };
}
