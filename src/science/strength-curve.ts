/** A made solution as the curve needs it. */
export interface Solution {
	/** Strength in g/L as Cl2 for which the next two numbers hold, above 0. */
	readonly initialStrengthGPerL: number;
	/** Share of the free chlorine that is HOCl when the pH was measured, 0 to 1. */
	readonly hoclFraction: number;
	/** First-order loss of OCl- at 25 °C in 1/day for that strength and a rate multiplier of 1, at least 0. */
	readonly lossRateAt25CPerDay: number;
}

/**
 * Strength that is left after a time in store, by a closed form: HOCl stays, OCl- is lost in first order to heat and at a
 * steady rate to light.
 *
 * O(A) = O0·e^(-kA) - L·(1 - e^(-kA))/(kA), never below 0, and S = H + O with H = S0·a0, O0 = S0·(1 - a0) and
 * k = lossRateAt25C·m·(S0/reference)². The loss to light is zero-order and is taken as spread evenly over the equivalent days,
 * so the result doesn't depend on which days were sunny (worst error: the light falls last, when nothing of it is "decayed"
 * any more; it is below L·(1 - (1 - e^(-kA))/(kA))).
 *
 * @param initialStrengthGPerL strength S0 when made, g/L as Cl2, above 0; it may differ from the solution's reference
 * @param rateMultiplier m, this batch's rate against the reference rate, at least 0 (1 = as expected)
 * @param solution reference strength, HOCl share and loss rate
 * @param equivalentDaysAt25C A, days at 25 °C that do as much as the days in store, at least 0 (Infinity allowed)
 * @param sunLossGPerL L, g/L as Cl2 that light takes over the same time, at least 0
 * @returns g/L as Cl2, between S0·a0 and S0. Below about 0.3·S0 the model no longer holds: treat the batch as spent.
 * @throws RangeError for a strength of 0 or below, and for any negative or NaN argument
 *
 * Source: integration of dO/dA = -k·O - L/A; rate law h²·O with h constant, after Adam, Suzuki, Gordon, Fábián 1992,
 * Inorg. Chem. 31:3534, and Busch et al. 2019, PCCP 21:19342 (see decay.ts).
 */
export function strengthAfterGPerL(
	initialStrengthGPerL: number,
	rateMultiplier: number,
	solution: Solution,
	equivalentDaysAt25C: number,
	sunLossGPerL: number,
): number {
	if (!(initialStrengthGPerL > 0 && rateMultiplier >= 0 && equivalentDaysAt25C >= 0 && sunLossGPerL >= 0)) {
		throw new RangeError(
			`strengthAfterGPerL needs a strength above 0 g/L and no negative number, got strength ${initialStrengthGPerL} g/L, ` +
				`multiplier ${rateMultiplier}, ${equivalentDaysAt25C} days, sun loss ${sunLossGPerL} g/L`,
		);
	}
	const hocl = initialStrengthGPerL * solution.hoclFraction;
	const hypochlorite = initialStrengthGPerL - hocl;
	const ratio = initialStrengthGPerL / solution.initialStrengthGPerL;
	const exponent = solution.lossRateAt25CPerDay * rateMultiplier * ratio * ratio * equivalentDaysAt25C;
	if (sunLossGPerL === 0) return exponent > 0 ? hocl + hypochlorite * Math.exp(-exponent) : initialStrengthGPerL;
	// exponent is NaN for "no loss rate, endless time": then only the light counts, as for exponent 0.
	if (!(exponent > 0)) return hocl + Math.max(0, hypochlorite - sunLossGPerL);
	const lost = -Math.expm1(-exponent);
	// Endless light over an endless time is endless light, not Infinity/Infinity.
	const sunLeft = sunLossGPerL === Number.POSITIVE_INFINITY ? sunLossGPerL : (sunLossGPerL * lost) / exponent;
	return hocl + Math.max(0, hypochlorite * (1 - lost) - sunLeft);
}
