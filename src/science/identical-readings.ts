import { chiSquareUpperP } from "./tail-chance.js";
import { valueWithin } from "./valid-range.js";
import { wholeWithin } from "./whole-number.js";

/**
 * Longest run of one and the same value.
 *
 * @param values in the order they were taken
 * @returns the value and how often it stands in a row, the first such run; null for an empty list
 */
export function longestIdenticalRun(values: readonly number[]): { readonly value: number; readonly length: number } | null {
	let best: { value: number; length: number } | null = null;
	let length = 0;
	for (const [i, value] of values.entries()) {
		length = i > 0 && value === values[i - 1] ? length + 1 : 1;
		if (!best || length > best.length) best = { value, length };
	}
	return best;
}

/**
 * Chance that a value with a given share stands at least so often in a row somewhere in a series.
 *
 * @param series `share` of the value, 0 to 1; `readings` 1 to 100 000; `runLength` 1 to 100 000
 * @returns 0 to 1, exact for independent readings
 * @throws RangeError outside these ranges
 * Source: recursion over the present run's length.
 */
export function chanceOfRun(series: { readonly share: number; readonly readings: number; readonly runLength: number }): number {
	const share = valueWithin("share of the value", series.share, 0, 1);
	const readings = wholeWithin("readings", series.readings, 1, 100_000);
	const wanted = wholeWithin("run length", series.runLength, 1, 100_000);
	if (wanted > readings) return 0;
	// chances[k]: no such run so far and the present run is k long
	let chances = [1, ...new Array<number>(wanted - 1).fill(0)];
	let reached = 0;
	for (let reading = 0; reading < readings; reading++) {
		const alive = chances.reduce((sum, chance) => sum + chance, 0);
		reached += chances[wanted - 1]! * share;
		chances = [alive * (1 - share), ...chances.slice(0, -1).map((chance) => chance * share)];
	}
	return reached;
}

/**
 * Share of pairs that match, in a series.
 *
 * @param values 2 to 100 000
 * @returns 0 to 1: 1 when all are the same
 * @throws RangeError outside this range
 */
export function matchShare(values: readonly number[]): number {
	const n = valueWithin("readings", values.length, 2, 100_000);
	const counts = new Map<number, number>();
	for (const value of values) counts.set(value, (counts.get(value) ?? 0) + 1);
	return [...counts.values()].reduce((sum, count) => sum + count * (count - 1), 0) / (n * (n - 1));
}

/** What independent readings with the peers' shares would match. */
export interface ExpectedMatch {
	readonly share: number;
	/** Standard deviation of `matchShare` for a series of that many readings. */
	readonly standardDeviation: number;
}

/**
 * Match share to expect of a series when the values have the shares that peers with the same kit read.
 *
 * @param shares of each value, 0 to 1, adding up to 1 within 1e-6
 * @param readings in the series, 2 to 100 000
 * @returns sum of squared shares and the spread around it
 * @throws RangeError outside these ranges
 * Source: variance of a U-statistic of order 2 (Hoeffding 1948).
 */
export function expectedMatch(shares: readonly number[], readings: number): ExpectedMatch {
	const n = wholeWithin("readings", readings, 2, 100_000);
	const power = (k: number): number => shares.reduce((sum, p) => sum + valueWithin("share of a value", p, 0, 1) ** k, 0);
	valueWithin("sum of the shares", power(1), 1 - 1e-6, 1 + 1e-6);
	const share = power(2);
	const one = power(3) - share ** 2;
	const two = share - share ** 2;
	const variance = (2 / (n * (n - 1))) * (2 * (n - 2) * one + two);
	return { share, standardDeviation: Math.sqrt(Math.max(0, variance)) };
}

/** Result of a test of counts against shares. */
export interface CountTest {
	readonly chiSquare: number;
	readonly degreesOfFreedom: number;
	readonly upperP: number;
}

/**
 * Chi-squared test of terminal digits, or of any classes, against the shares that peers show.
 *
 * @param counts in each class, whole, 0 or more, 2 to 100 classes
 * @param shares expected of each class, above 0; default all alike, which is right for meters that show digits only
 * @returns statistic, degrees of freedom and p; classes that peers never use are to be pooled before
 * @throws RangeError outside these ranges or for lists of different lengths
 * Source: Pearson 1900.
 */
export function digitTest(counts: readonly number[], shares?: readonly number[]): CountTest {
	const classes = wholeWithin("classes", counts.length, 2, 100);
	const expectedShares = shares ?? new Array<number>(classes).fill(1 / classes);
	if (expectedShares.length !== classes) {
		throw new RangeError(`shares must be ${classes}, one for each class, got ${expectedShares.length}`);
	}
	const total = counts.reduce((sum, count) => sum + wholeWithin("count", count, 0, 1e9), 0);
	valueWithin("sum of the counts", total, 1, 1e12);
	const whole = expectedShares.reduce((sum, p) => sum + valueWithin("share of a class", p, 1e-9, 1), 0);
	const chiSquare = counts.reduce((sum, count, i) => {
		const expected = (total * expectedShares[i]!) / whole;
		return sum + (count - expected) ** 2 / expected;
	}, 0);
	return { chiSquare, degreesOfFreedom: classes - 1, upperP: chiSquareUpperP(chiSquare, classes - 1) };
}
