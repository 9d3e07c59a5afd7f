import { normalTwoSidedP } from "./tail-chance.js";
import { valueWithin } from "./valid-range.js";

/** Result of a test for a steady rise or fall. */
export interface Trend {
	/** Rising pairs less falling pairs. */
	readonly s: number;
	readonly variance: number;
	/** S over its largest value without ties, -1 to 1. */
	readonly tau: number;
	readonly z: number;
	/** Chance of an S this far out, in its direction, if there is no trend. */
	readonly oneSidedP: number;
	readonly twoSidedP: number;
	/** "exact" below 10 values without ties, else the normal approximation with continuity and tie corrections. */
	readonly method: "exact" | "normal";
}

/**
 * Standard score of a Mann-Kendall S.
 *
 * @param s statistic, an integer
 * @param variance its variance, 0 or more
 * @returns (S ∓ 1)/√variance, 0 when S or the variance is 0
 * @throws RangeError for a negative variance
 * Source: Mann 1945; Kendall 1975.
 */
export function mannKendallZ(s: number, variance: number): number {
	valueWithin("variance of S", variance, 0, Number.MAX_VALUE);
	return s === 0 || variance === 0 ? 0 : (s - Math.sign(s)) / Math.sqrt(variance);
}

function tieGroups(values: readonly number[]): number[] {
	const counts = new Map<number, number>();
	for (const value of values) counts.set(value, (counts.get(value) ?? 0) + 1);
	return [...counts.values()].filter((count) => count > 1);
}

/** Share of orderings of n different values with S at least s: inversions counted one value at a time. */
function exactUpperTail(n: number, s: number): number {
	let counts = [1];
	for (let size = 2; size <= n; size++) {
		const next = new Array<number>(counts.length + size - 1).fill(0);
		for (const [inversions, ways] of counts.entries())
			for (let more = 0; more < size; more++) next[inversions + more]! += ways / size;
		counts = next;
	}
	const pairs = (n * (n - 1)) / 2;
	// S = pairs - 2·inversions
	return counts.reduce((sum, share, inversions) => (pairs - 2 * inversions >= s ? sum + share : sum), 0);
}

/**
 * Mann-Kendall test of a series in the order of time.
 *
 * @param values at least 3 finite numbers, any unit, equally or unequally spaced
 * @returns S, its variance with ties, tau, z and the chances; a constant series has S 0 and p 1
 * @throws RangeError for fewer than 3 values or one that is no finite number
 * Source: Mann 1945, Kendall 1975; exact below 10 values after Gilbert 1987.
 */
export function mannKendall(values: readonly number[]): Trend {
	const n = valueWithin("values in the series", values.length, 3, 100_000);
	let s = 0;
	for (const [i, earlier] of values.entries()) {
		valueWithin(`value ${i + 1}`, earlier, -Number.MAX_VALUE, Number.MAX_VALUE);
		for (const later of values.slice(i + 1)) s += Math.sign(later - earlier);
	}
	const ties = tieGroups(values);
	const tied = ties.reduce((sum, t) => sum + t * (t - 1) * (2 * t + 5), 0);
	const variance = (n * (n - 1) * (2 * n + 5) - tied) / 18;
	const z = mannKendallZ(s, variance);
	const tau = s / ((n * (n - 1)) / 2);
	if (n < 10 && ties.length === 0) {
		const oneSidedP = exactUpperTail(n, Math.abs(s));
		return { s, variance, tau, z, oneSidedP, twoSidedP: Math.min(1, 2 * oneSidedP), method: "exact" };
	}
	const twoSidedP = normalTwoSidedP(z);
	return { s, variance, tau, z, oneSidedP: s === 0 ? 0.5 : twoSidedP / 2, twoSidedP, method: "normal" };
}

/**
 * Slope of a series that outliers don't pull: the median of all pairs' slopes.
 *
 * @param points at least 2 with different `x`; `y` in any unit
 * @returns y-units per x-unit
 * @throws RangeError for fewer than 2 different x
 * Source: Theil 1950; Sen 1968.
 */
export function medianSlope(points: readonly { readonly x: number; readonly y: number }[]): number {
	const slopes = points
		.flatMap((a, i) => points.slice(i + 1).map((b) => (b.y - a.y) / (b.x - a.x)))
		.filter(Number.isFinite)
		.sort((a, b) => a - b);
	valueWithin("pairs at different times", slopes.length, 1, Number.MAX_VALUE);
	const middle = slopes.length >> 1;
	return slopes.length % 2 === 1 ? slopes[middle]! : (slopes[middle - 1]! + slopes[middle]!) / 2;
}
