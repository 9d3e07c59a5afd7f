import { type DueCurve, LONGEST_DAYS } from "./due-curve.js";

/**
 * Equivalent days at 25 °C, from the curve's reference moment, until the chance of being under a limit passes the tolerance.
 *
 * @param curve from `dueCurveOf`
 * @param limitGPerL strength a batch must have, above 0 g/L as Cl2
 * @param sunLossGPerLPerDay what light takes per equivalent day in that place, at least 0 g/L as Cl2
 * @returns days, at least 0; 0 if the tolerance has been passed already. Between 0.4 and 0.97 of the low edge it is at most 4 %
 * earlier than on the full grid and not later by more than 0.5 %. With sun it is some 3 % earlier as a rule and up to a third
 * earlier at worst (an old batch in full sun), never later by more than 1 %. Below 0.37 of the low edge the last rate is kept,
 * and the batch is spent anyway.
 * @throws RangeError for a limit of 0 or below, or a negative or NaN loss
 *
 * Source: own derivation. With sun, L + g·B·ψ stands for the limit L, ψ = (1 - e^-u)/u of strength-curve.ts with the exponent
 * since the reference moment; B depends on u only, so that u = ln((low + G)/(L + G)), G = g·exp(-p(√u)), is its own fixed point.
 */
export function equivalentDaysUntilUnder(curve: DueCurve, limitGPerL: number, sunLossGPerLPerDay = 0): number {
	if (!(limitGPerL > 0 && sunLossGPerLPerDay >= 0)) {
		throw new RangeError(
			`a due day needs a limit above 0 g/L and a sun loss of 0 or more, got ${limitGPerL} g/L and ${sunLossGPerLPerDay} g/L a day`,
		);
	}
	return daysByCoefficients(curve.lowGPerL, curve.lnRateCoefficients, 0, limitGPerL, sunLossGPerLPerDay);
}

/**
 * The same from bare numbers, unchecked, for loops over very many batches.
 *
 * @param low low edge, g/L
 * @param coefficients of many batches, one after the other
 * @param first index of this batch's first coefficient
 * @param limit g/L, above 0
 * @param sun g/L per equivalent day, at least 0
 * @returns equivalent days
 */
export function daysByCoefficients(
	low: number,
	coefficients: ArrayLike<number>,
	first: number,
	limit: number,
	sun: number,
): number {
	if (!(low > limit)) return 0;
	const c0 = coefficients[first]!;
	const c1 = coefficients[first + 1]!;
	const c2 = coefficients[first + 2]!;
	const c3 = coefficients[first + 3]!;
	const c4 = coefficients[first + 4]!;
	const c5 = coefficients[first + 5]!;
	let u = Math.log(low / limit);
	let days = 0;
	for (let round = 0; round < 8; round++) {
		const root = u < 1 ? Math.sqrt(u) : 1;
		const perRate = Math.exp(-(c0 + root * (c1 + root * (c2 + root * (c3 + root * (c4 + root * c5))))));
		days = u * perRate;
		if (sun === 0) break;
		const loss = sun * perRate;
		const next = Math.log((low + loss) / (limit + loss));
		if (Math.abs(next - u) < 1e-3 * u) break;
		u = next;
	}
	return Math.min(days, LONGEST_DAYS);
}
