import { DAVIES_LIMIT_MOL_PER_L } from "./ionic-strength.js";
import { CL2_G_PER_MOL, NACL_G_PER_MOL } from "./units.js";
import { valueWithin } from "./valid-range.js";

/** Salt that the chlorine itself is made of, kg NaCl per kg Cl2. Source: NaCl + H2O -> NaOCl + H2, one Cl2-equivalent an NaCl. */
export const STOICHIOMETRIC_SALT_KG_PER_KG = NACL_G_PER_MOL / CL2_G_PER_MOL;

/** Ionic strength up to which this project still stretches it, as an uncertain constant of the storage model, mol/L. */
export const DAVIES_STRETCH_MOL_PER_L = 1;

const saltConcentration = (saltGPerL: number): number =>
	valueWithin("salt in g/L", saltGPerL, 1, 350, "saturated brine holds about 350");

/**
 * Salt to weigh for a batch.
 *
 * @param brine `saltGPerL` 1 to 350 g/L; `volumeL` 0.1 to 1000 L of brine
 * @returns grams of NaCl
 * @throws RangeError outside these ranges
 */
export function saltNeededG(brine: { readonly saltGPerL: number; readonly volumeL: number }): number {
	return saltConcentration(brine.saltGPerL) * valueWithin("brine in L", brine.volumeL, 0.1, 1000);
}

/**
 * Salt that goes in for each kilogram of chlorine that comes out.
 *
 * @param brine `saltGPerL` 1 to 350 g/L at the start; `strengthGPerL` reached, 0.1 to 15 g/L
 * @returns kg NaCl per kg Cl2; never under 0.8242, what is above it leaves as salt in the bleach
 * @throws RangeError outside these ranges, or if the salt can't have made that strength
 * Source: mass balance; municipal plants 3.0 to 3.5 kg/kg (secondary), small batch cells 5 to 6 (computed).
 */
export function saltKgPerKgChlorine(brine: { readonly saltGPerL: number; readonly strengthGPerL: number }): number {
	const ratio = saltConcentration(brine.saltGPerL) / valueWithin("strength in g/L", brine.strengthGPerL, 0.1, 15);
	return valueWithin(
		"salt in kg per kg chlorine",
		ratio,
		STOICHIOMETRIC_SALT_KG_PER_KG,
		Number.POSITIVE_INFINITY,
		"that little salt can't have made it: check the weighing or the strength",
	);
}

/** Ionic strength of a brine and whether activity corrections hold there. */
export interface BrineIonicStrength {
	readonly molPerL: number;
	/** "inside" to 0.5 mol/L; "stretched" to 1: kept, with its error in the model's spread; "outside": no correction is claimed. */
	readonly daviesRange: "inside" | "stretched" | "outside";
}

/**
 * Ionic strength that a brine keeps through electrolysis.
 *
 * @param saltGPerL NaCl at the start, 1 to 350 g/L
 * @returns mol/L and the place in the Davies range; the molarity of the brine stands for it, because each chloride that goes
 *   becomes one hypochlorite
 * @throws RangeError outside the range
 * Source: mu = ½ sum c z²; Davies range from memory. 100 g/L is 1.71 mol/L: outside, so a pKa corrected by Davies isn't to be
 * trusted there and the forecast must lean on tests.
 */
export function brineIonicStrength(saltGPerL: number): BrineIonicStrength {
	const molPerL = saltConcentration(saltGPerL) / NACL_G_PER_MOL;
	if (molPerL <= DAVIES_LIMIT_MOL_PER_L) return { molPerL, daviesRange: "inside" };
	return { molPerL, daviesRange: molPerL <= DAVIES_STRETCH_MOL_PER_L ? "stretched" : "outside" };
}
