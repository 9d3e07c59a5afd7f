import chiSquareCdf from "@stdlib/stats-base-dists-chisquare-cdf";
import { normalCdf } from "./normal.js";
import { valueWithin } from "./valid-range.js";

/**
 * Chance that a standard normal lies at least this far from 0, on either side.
 *
 * @param z standard score, any finite number
 * @returns 0 to 1
 */
export function normalTwoSidedP(z: number): number {
	return 2 * normalCdf(-Math.abs(z));
}

/**
 * Chance that a chi-squared variable lies above a value.
 *
 * @param chiSquare value, 0 or more
 * @param degreesOfFreedom 1 or more
 * @returns 0 to 1; below about 1e-15 it reads 0
 * @throws RangeError outside these ranges
 */
export function chiSquareUpperP(chiSquare: number, degreesOfFreedom: number): number {
	valueWithin("chi-squared", chiSquare, 0, Number.MAX_VALUE);
	valueWithin("degrees of freedom", degreesOfFreedom, 1, Number.MAX_VALUE);
	return Math.max(0, 1 - chiSquareCdf(chiSquare, degreesOfFreedom));
}

/**
 * Which of many tests stand when each may cry wolf.
 *
 * @param pValues each 0 to 1, in any order
 * @param falseShare share of false alarms among the alarms to put up with, above 0 to 0.5
 * @returns for each p whether it stands, in the given order; none for an empty list
 * @throws RangeError outside these ranges
 * Source: Benjamini & Hochberg 1995, J. R. Statist. Soc. B 57:289, step-up procedure.
 */
export function standingAlarms(pValues: readonly number[], falseShare: number): boolean[] {
	valueWithin("share of false alarms", falseShare, 1e-6, 0.5);
	const order = pValues.map((p, index) => ({ p: valueWithin("p", p, 0, 1), index })).sort((a, b) => a.p - b.p);
	let last = -1;
	for (const [rank, { p }] of order.entries()) if (p <= ((rank + 1) / order.length) * falseShare) last = rank;
	const stands = new Array<boolean>(pValues.length).fill(false);
	for (const { index } of order.slice(0, last + 1)) stands[index] = true;
	return stands;
}
