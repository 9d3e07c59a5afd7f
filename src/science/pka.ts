import { type ChosenConstants, defaultConstants } from "./constants.js";
import { daviesCorrection } from "./ionic-strength.js";
import { kelvinOf } from "./units.js";
import { valueWithin } from "./valid-range.js";

/**
 * Acid constant of HOCl in pure water.
 *
 * @param temperatureC 0 to 40 °C (measured 5 to 35 °C)
 * @returns pKa, 7.8251 at 0 °C to 7.4342 at 40 °C
 * @throws RangeError outside 0 to 40 °C
 *
 * Source: Morris 1966, J. Phys. Chem. 70:3798: pKa = 3000/T - 10.0686 + 0.0253·T.
 */
export function pkaOfHypochlorousAcid(temperatureC: number): number {
	const t = kelvinOf(valueWithin("temperature in °C", temperatureC, 0, 40));
	return 3000 / t - 10.0686 + 0.0253 * t;
}

/**
 * Mixed acid constant of HOCl in brine: a pH meter's activity of H+, concentrations of HOCl and OCl-.
 *
 * @param temperatureC 0 to 40 °C, where the pH was measured
 * @param ionicStrengthMolPerL 0 to 1 mol/L
 * @param constants the uncertain constants; `pkaShift` is added
 * @returns pKa', 0.1345 below pKa at 0.5 mol/L
 * @throws RangeError outside these ranges
 *
 * Source: Morris 1966 with the activity coefficient of Davies 1962, Ion Association. Uncertain by ±0.1.
 */
export function mixedPka(
	temperatureC: number,
	ionicStrengthMolPerL: number,
	constants: ChosenConstants = defaultConstants,
): number {
	return pkaOfHypochlorousAcid(temperatureC) - daviesCorrection(ionicStrengthMolPerL) + constants.pkaShift;
}

/**
 * Share of the free chlorine that is HOCl.
 *
 * @param pH 0 to 14, measured at the temperature of the acid constant
 * @param pka acid constant, plain or mixed
 * @returns 1/(1 + 10^(pH - pKa)), 0 to 1
 * @throws RangeError for a pH outside 0 to 14
 *
 * Source: law of mass action.
 */
export function hoclFractionAt(pH: number, pka: number): number {
	return 1 / (1 + 10 ** (valueWithin("pH", pH, 0, 14) - pka));
}
