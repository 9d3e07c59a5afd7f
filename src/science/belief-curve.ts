import { type Solution, strengthAfterGPerL } from "./strength-curve.js";

// Looked up once: where the global object is sandboxed, each `Math.` in these loops costs as much as the logarithm itself.
const { exp, max } = Math;

/** What has happened to a batch since it was made, as `exposureBetween` sums it up. */
export interface ExposureSum {
	/** Days at 25 °C that do as much as the days in store, at least 0. */
	readonly equivalentDaysAt25C: number;
	/** Strength the light took over the same time, g/L as Cl2, at least 0. */
	readonly sunLossGPerL: number;
}

/** The curve of strength-curve.ts for one made solution. Plain values, so that a belief can be stored. */
export interface StandardCurve {
	readonly solution: Solution;
	/** 2: the rate grows with the square of the strength (the closed form's own). 0: one rate whatever the strength. */
	readonly strengthExponent: 0 | 2;
}

/** Strength, g/L, of a batch made at `initialGPerL` that ages `rateMultiplier` times as fast as expected. */
export type GivenCurve = (initialGPerL: number, rateMultiplier: number, exposure: ExposureSum) => number;

/** The standard curve, or any other that never grows with the multiplier. */
export type StrengthCurve = StandardCurve | GivenCurve;

/** Strength by the given curve for one batch, g/L as Cl2. */
export function strengthByCurveGPerL(
	curve: StrengthCurve,
	initialGPerL: number,
	rateMultiplier: number,
	exposure: ExposureSum,
): number {
	if (typeof curve === "function") return curve(initialGPerL, rateMultiplier, exposure);
	const { solution, strengthExponent } = curve;
	const own = strengthExponent === 2 ? solution : { ...solution, initialStrengthGPerL: initialGPerL };
	return strengthAfterGPerL(initialGPerL, rateMultiplier, own, exposure.equivalentDaysAt25C, exposure.sunLossGPerL);
}

/**
 * Strengths over a grid of initial strengths and multipliers, row by row (a row shares its initial strength).
 *
 * The standard curve is written out here once more, without the checks and with what a row shares computed once; a test holds
 * it to `strengthAfterGPerL`.
 *
 * @param curve the strength curve
 * @param initialsGPerL initial strength of each row, g/L, above 0
 * @param multipliers rate multiplier of each column, above 0
 * @param exposure what happened since it was made
 * @returns g/L as Cl2, `initialsGPerL.length * multipliers.length` values
 */
export function strengthsOverGridGPerL(
	curve: StrengthCurve,
	initialsGPerL: Float64Array,
	multipliers: Float64Array,
	exposure: ExposureSum,
): Float64Array {
	const columns = multipliers.length;
	const strengths = new Float64Array(initialsGPerL.length * columns);
	for (let row = 0; row < initialsGPerL.length; row++) {
		const initial = initialsGPerL[row]!;
		const start = row * columns;
		if (typeof curve === "function") {
			for (let column = 0; column < columns; column++) {
				strengths[start + column] = curve(initial, multipliers[column]!, exposure);
			}
			continue;
		}
		const { solution, strengthExponent } = curve;
		const ratio = initial / solution.initialStrengthGPerL;
		const hocl = initial * solution.hoclFraction;
		const hypochlorite = initial - hocl;
		const perMultiplier =
			solution.lossRateAt25CPerDay * exposure.equivalentDaysAt25C * (strengthExponent === 2 ? ratio * ratio : 1);
		const sun = exposure.sunLossGPerL;
		for (let column = 0; column < columns; column++) {
			const exponent = perMultiplier * multipliers[column]!;
			const kept = exp(-exponent);
			let left = hypochlorite * kept;
			// (1 - e^-k)/k by its series where the difference would cancel.
			if (sun > 0) left -= sun * (exponent < 1e-4 ? 1 - exponent * (0.5 - exponent / 6) : (1 - kept) / exponent);
			strengths[start + column] = hocl + max(left, 0);
		}
	}
	return strengths;
}
