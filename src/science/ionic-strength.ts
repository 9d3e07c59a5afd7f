import { NACL_G_PER_MOL } from "./units.js";
import { valueWithin } from "./valid-range.js";

/** Ionic strength in mol/L up to which the activity correction is in its own range; up to 1 it is extrapolated. */
export const DAVIES_LIMIT_MOL_PER_L = 0.5;

/** Ionic strength in mol/L where the extrapolation ends. A brine of 100 g/L, as small makers use, is at 1.7. */
export const DAVIES_END_MOL_PER_L = 1;

/**
 * Ionic strength of a batch from the salt of its own run: each chloride that is used up becomes one hypochlorite, so the
 * starting brine sets it.
 *
 * @param saltGrams sodium chloride put in, at least 0 g
 * @param waterLitres water it was dissolved in, above 0 L
 * @returns mol/L: 25 g/L give 0.428, 30 g/L 0.513
 * @throws RangeError if the brine is not 0 to 350 g/L (6 mol/L, where the rate law ends; nearly saturated)
 *
 * Source: mu = ½·Σ c·z², sodium chloride.
 */
export function ionicStrengthOfBrineMolPerL(saltGrams: number, waterLitres: number): number {
	valueWithin("water in L", waterLitres, 1e-3, 1e6);
	const saltGPerL = valueWithin(
		"salt in the brine in g/L",
		saltGrams / waterLitres,
		0,
		350,
		"check the salt and water of the run",
	);
	return saltGPerL / NACL_G_PER_MOL;
}

/**
 * How far the salt lowers the mixed acid constant: -log10 of the activity coefficient of a single charge.
 *
 * @param ionicStrengthMolPerL 0 to 1 mol/L; good to 0.5, an extrapolation above (it turns round there and errs to a faster loss)
 * @returns pH units, 0 at 0, 0.1345 at 0.5 mol/L
 * @throws RangeError outside 0 to 1 mol/L
 *
 * Source: Davies 1962, Ion Association, with A = 0.509 (25 °C) and 0.3·mu.
 */
export function daviesCorrection(ionicStrengthMolPerL: number): number {
	const mu = valueWithin(
		"ionic strength in mol/L",
		ionicStrengthMolPerL,
		0,
		DAVIES_END_MOL_PER_L,
		"the activity correction ends there",
	);
	const root = Math.sqrt(mu);
	return 0.509 * (root / (1 + root) - 0.3 * mu);
}
