import { type ChosenConstants, defaultConstants } from "./constants.js";
import { valueWithin } from "./valid-range.js";

/**
 * WHO's provisional guideline value for chlorate in drinking-water, mg/L. Difficulty in meeting it must never be a reason to
 * compromise disinfection. Source: WHO, Guidelines for drinking-water quality, 4th ed. with addenda, 2022; stricter views are
 * 0.25 (EU) and about 0.3 (from JECFA's intake).
 */
export const CHLORATE_GUIDELINE_MG_PER_L = 0.7;

/** Chlorate in g/L of stock that was S0 and is S, both g/L as Cl2; a strength that seems to have risen counts as no loss. */
function chlorateGPerL(initialStrengthGPerL: number, strengthGPerL: number, constants: ChosenConstants): number {
	const initial = valueWithin("first strength in g/L", initialStrengthGPerL, 1e-3, 200);
	const now = valueWithin("strength in g/L", strengthGPerL, 1e-3, 200);
	return constants.freshChlorateShare * initial + constants.chlorateYield * Math.max(0, initial - now);
}

/**
 * Chlorate in a stock solution that has lost strength.
 *
 * All loss is counted as if heat had done it: light and metals make less chlorate, so this is the cautious side.
 *
 * @param initialStrengthGPerL strength when made, 0.001 to 200 g/L as Cl2
 * @param strengthGPerL strength now, 0.001 to 200 g/L as Cl2
 * @param constants the uncertain constants; `freshChlorateShare` of the first strength is there from the start
 * @returns mg/L as ClO3-
 * @throws RangeError outside these ranges
 *
 * Source: 3 OCl- > ClO3- + 2 Cl-, and 8.7 times as much of it as of the path to oxygen: Adam & Gordon 1999, Inorg. Chem.
 * 38:1299; yield 0.36439 g/g computed from it.
 */
export function chlorateInStockMgPerL(
	initialStrengthGPerL: number,
	strengthGPerL: number,
	constants: ChosenConstants = defaultConstants,
): number {
	return 1000 * chlorateGPerL(initialStrengthGPerL, strengthGPerL, constants);
}

/**
 * Chlorate that a dose brings into the water.
 *
 * @param doseMgPerL chlorine dose, 0 to 100 mg/L as Cl2
 * @param initialStrengthGPerL strength of the stock when made, 0.001 to 200 g/L
 * @param strengthGPerL strength of the stock when dosed, 0.001 to 200 g/L
 * @param constants the uncertain constants
 * @returns mg/L as ClO3- in the water, to compare with `CHLORATE_GUIDELINE_MG_PER_L`
 * @throws RangeError outside these ranges
 *
 * Source: as for `chlorateInStockMgPerL`: dose·(x0 + y·(S0 - S))/S.
 */
export function chlorateInWaterMgPerL(
	doseMgPerL: number,
	initialStrengthGPerL: number,
	strengthGPerL: number,
	constants: ChosenConstants = defaultConstants,
): number {
	const dose = valueWithin("dose in mg/L", doseMgPerL, 0, 100);
	return (dose * chlorateGPerL(initialStrengthGPerL, strengthGPerL, constants)) / strengthGPerL;
}

/**
 * Strength at which a dose of old stock brings as much chlorate as a limit allows.
 *
 * @param doseMgPerL chlorine dose, 0 to 100 mg/L as Cl2
 * @param initialStrengthGPerL strength of the stock when made, 0.001 to 200 g/L
 * @param limitMgPerL limit for chlorate in the water, 0.01 to 10 mg/L
 * @param constants the uncertain constants
 * @returns g/L as Cl2: weaker stock exceeds the limit; above the first strength if fresh stock exceeds it already, 0 for no dose
 * @throws RangeError outside these ranges
 *
 * Source: `chlorateInWaterMgPerL` solved for the strength.
 */
export function strengthAtChlorateLimitGPerL(
	doseMgPerL: number,
	initialStrengthGPerL: number,
	limitMgPerL: number = CHLORATE_GUIDELINE_MG_PER_L,
	constants: ChosenConstants = defaultConstants,
): number {
	const dose = valueWithin("dose in mg/L", doseMgPerL, 0, 100);
	const initial = valueWithin("first strength in g/L", initialStrengthGPerL, 1e-3, 200);
	const limit = valueWithin("chlorate limit in mg/L", limitMgPerL, 0.01, 10);
	const { freshChlorateShare: fresh, chlorateYield: yielded } = constants;
	const strength = (dose * initial * (fresh + yielded)) / (limit + dose * yielded);
	// Above the first strength nothing has been lost, so only what was there from the start counts.
	return strength <= initial ? strength : (dose * initial * fresh) / limit;
}
