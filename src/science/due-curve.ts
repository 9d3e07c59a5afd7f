import type { Belief } from "./belief.js";
import type { ExposureSum } from "./belief-curve.js";
import { chanceUnder, strengthQuantileGPerL } from "./strength-now.js";
import { valueWithin } from "./valid-range.js";

/**
 * The weak edge of a belief from one moment on, in eight numbers: the strength that all but the tolerance lies above, and how
 * fast it sinks. From these a due day costs one logarithm and one exponential instead of a grid.
 *
 * With u = ln(low/limit) the equivalent days are B = u·exp(-p(√u)), where p is the logarithm of an effective loss rate that
 * changes slowly with u: a polynomial of fifth degree through six days found on the full grid.
 */
export interface DueCurve {
	/** Chance of being too weak that is accepted. */
	readonly tolerance: number;
	/** Strength at the reference moment that the tolerance lies below, g/L as Cl2. */
	readonly lowGPerL: number;
	/** The six coefficients of p by rising power of √u; the rate is in 1/day at 25 °C. */
	readonly lnRateCoefficients: readonly number[];
}

/** How many coefficients a due curve has. */
export const COEFFICIENTS = 6;

/** √u at the knots, Chebyshev's over strengths of 0.37 to 0.995 of the low edge: the strength model ends at about 0.3. */
const knots = Array.from(
	{ length: COEFFICIENTS },
	(_, k) => 0.535 - 0.465 * Math.cos((Math.PI * (2 * k + 1)) / (2 * COEFFICIENTS)),
);
/** No due day is further away than this. */
export const LONGEST_DAYS = 36_500;
/** How much earlier than on the grid a day is put, so that the polynomial's error falls on the early side. */
const EARLY_SHARE = 0.01;

/**
 * Summary of a belief from which due days are computed fast.
 *
 * @param belief of the batch
 * @param reference what had happened to it until the moment days are counted from: its last test, or its making
 * @param tolerance chance of being under the limit that is accepted, 0.005 to 0.5
 * @returns the weak edge for that tolerance; it has to be made anew (some milliseconds) when tests or the tolerance change, but
 * not for another limit or another place
 * @throws RangeError for a tolerance outside its range
 *
 * Source: own derivation; held to the full grid by tests.
 */
export function dueCurveOf(belief: Belief, reference: ExposureSum, tolerance: number): DueCurve {
	valueWithin("tolerance", tolerance, 0.005, 0.5);
	const lowGPerL = strengthQuantileGPerL(belief, reference, tolerance);
	const lnRates: number[] = [];
	for (const root of knots) {
		const u = root * root;
		const limitGPerL = lowGPerL * Math.exp(-u);
		const guess = u / Math.exp(lnRates.at(-1) ?? Math.log(0.01));
		const days = daysUntilUnder(belief, reference, limitGPerL, tolerance, guess);
		// Never within a century: keep the rate of the knot before, which is earlier.
		const lnRate = days < LONGEST_DAYS ? Math.log(u / days) : (lnRates.at(-1) ?? Math.log(u / LONGEST_DAYS));
		lnRates.push(lnRate);
	}
	const early = lnRates.map((lnRate) => lnRate + EARLY_SHARE);
	return { tolerance, lowGPerL, lnRateCoefficients: polynomialThrough(knots, early) };
}

/** Equivalent days, from a reference without further sun, until the chance of being under a limit passes the tolerance. */
function daysUntilUnder(belief: Belief, from: ExposureSum, limitGPerL: number, tolerance: number, guessDays: number): number {
	const excess = (days: number) => {
		const exposure = { equivalentDaysAt25C: from.equivalentDaysAt25C + days, sunLossGPerL: from.sunLossGPerL };
		return chanceUnder(belief, exposure, limitGPerL) - tolerance;
	};
	let low = Math.log(guessDays);
	let high = low;
	let atLow = excess(guessDays);
	let atHigh = atLow;
	for (let step = 0.25; atLow > 0; step *= 2) {
		high = low;
		atHigh = atLow;
		low -= step;
		atLow = excess(Math.exp(low));
		if (low < -20) return Math.exp(low);
	}
	for (let step = 0.25; atHigh <= 0; step *= 2) {
		low = high;
		atLow = atHigh;
		high += step;
		if (high > Math.log(LONGEST_DAYS)) return LONGEST_DAYS;
		atHigh = excess(Math.exp(high));
	}
	let side = 0;
	for (let step = 0; step < 40 && high - low > 1e-5; step++) {
		const middle = (low * atHigh - high * atLow) / (atHigh - atLow);
		const at = excess(Math.exp(middle));
		if (Math.abs(at) < 1e-7) return Math.exp(middle);
		if (at > 0) {
			high = middle;
			atHigh = at;
			if (side > 0) atLow /= 2;
			side = 1;
		} else {
			low = middle;
			atLow = at;
			if (side < 0) atHigh /= 2;
			side = -1;
		}
	}
	return Math.exp(low);
}

/** Coefficients, by rising power, of the polynomial through as many points (Newton's divided differences, multiplied out). */
function polynomialThrough(xs: readonly number[], ys: readonly number[]): number[] {
	const differences = [...ys];
	for (let order = 1; order < xs.length; order++) {
		for (let k = xs.length - 1; k >= order; k--) {
			differences[k] = (differences[k]! - differences[k - 1]!) / (xs[k]! - xs[k - order]!);
		}
	}
	let coefficients: number[] = [];
	for (let k = xs.length - 1; k >= 0; k--) {
		const shifted = [0, ...coefficients];
		coefficients = shifted.map((c, power) => c - xs[k]! * (coefficients[power] ?? 0));
		coefficients[0]! += differences[k]!;
	}
	return coefficients;
}
