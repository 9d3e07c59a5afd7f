import { valueWithin } from "./valid-range.js";

/** Milligrams of Cl2 that a milliequivalent of thiosulfate stands for, times 1000. Source: half of 70.906 g/mol. */
export const CL2_MG_PER_EQUIVALENT = 35_453;

/** A titration with thiosulfate. */
export interface Titration {
	/** Thiosulfate used by the sample, mL, 0 to 100. */
	readonly titrantMl: number;
	/** Thiosulfate used by a blank, mL, -1 to 10 (negative when the blank is titrated with iodine). Default 0. */
	readonly blankMl?: number;
	/** Normality of the thiosulfate, 0.0005 to 1 eq/L. */
	readonly normality: number;
	/** Sample before any dilution that is titrated whole, mL, 0.05 to 1000. */
	readonly sampleMl: number;
}

/**
 * Available chlorine of a titrated sample.
 *
 * @param titration volumes and normality; acid (pH 3 to 4, acetic), iodide, starch near the end
 * @returns mg/L as Cl2 of the sample; for a diluted sample multiply by the dilution. Stock strength in g/L is this divided by 1000
 * @throws RangeError outside these ranges
 * Caution: acid goes into the small iodide-treated sample only, never into a container of bleach. Source: Standard Methods 4500-Cl B,
 * (A - B)·N·35 450/mL sample (from memory, printed with 35 450; 35 453 here, 0.01 % apart).
 */
export function titratedMgPerL(titration: Titration): number {
	const used =
		valueWithin("thiosulfate in mL", titration.titrantMl, 0, 100) - valueWithin("blank in mL", titration.blankMl ?? 0, -1, 10);
	const normality = valueWithin("normality in eq/L", titration.normality, 0.0005, 1);
	return (Math.max(0, used) * normality * CL2_MG_PER_EQUIVALENT) / valueWithin("sample in mL", titration.sampleMl, 0.05, 1000);
}

/**
 * Thiosulfate that a sample of a strength takes: what to expect before titrating, and whether the burette is long enough.
 *
 * @param sample `concentrationMgPerL` 0 to 200 000 mg/L as Cl2; `normality` 0.0005 to 1 eq/L; `sampleMl` 0.05 to 1000 mL
 * @returns mL
 * @throws RangeError outside these ranges
 * Source: as `titratedMgPerL`, turned round.
 */
export function titrantNeededMl(sample: {
	readonly concentrationMgPerL: number;
	readonly normality: number;
	readonly sampleMl: number;
}): number {
	const mg = valueWithin("concentration in mg/L", sample.concentrationMgPerL, 0, 200_000);
	const normality = valueWithin("normality in eq/L", sample.normality, 0.0005, 1);
	return (mg * valueWithin("sample in mL", sample.sampleMl, 0.05, 1000)) / (normality * CL2_MG_PER_EQUIVALENT);
}

/**
 * What a count of drops says: the colour went with the last drop, so the truth lies between it and the one before.
 *
 * @param drops whole drops until the colour went, 1 to 500
 * @param perDrop what one drop stands for, in the wanted unit, above 0
 * @returns bounds [lower, upper) in that unit
 * @throws RangeError outside these ranges or for a part of a drop
 */
export function dropCountBounds(drops: number, perDrop: number): { readonly lower: number; readonly upper: number } {
	valueWithin("drops", drops, 1, 500);
	if (!Number.isInteger(drops)) throw new RangeError(`drops must be a whole number from 1 to 500, got ${drops}`);
	valueWithin("one drop's worth", perDrop, Number.MIN_VALUE, Number.MAX_VALUE);
	return { lower: (drops - 1) * perDrop, upper: drops * perDrop };
}
