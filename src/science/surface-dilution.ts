import { valueWithin } from "./valid-range.js";

const strength = (name: string, gPerL: number): number => valueWithin(`${name} in g/L`, gPerL, 0.01, 200);

/** Parts of water to one part of bleach, or that the bleach is too weak. */
export type DilutionParts =
	| { readonly kind: "parts"; readonly waterPerPart: number }
	| { readonly kind: "tooWeak"; readonly missingGPerL: number };

/**
 * Parts of water to one part of bleach.
 *
 * @param bleach `haveGPerL` and `wantGPerL`, 0.01 to 200 g/L as Cl2
 * @returns parts, 0 for undiluted use; "tooWeak" when the bleach is under the wanted strength
 * @throws RangeError outside these ranges
 * Source: CDC, Best practices for environmental cleaning, appendix E: parts = have/want - 1.
 */
export function dilutionParts(bleach: { readonly haveGPerL: number; readonly wantGPerL: number }): DilutionParts {
	const ratio = strength("strength", bleach.haveGPerL) / strength("wanted strength", bleach.wantGPerL);
	if (ratio < 1 - 1e-9) return { kind: "tooWeak", missingGPerL: bleach.wantGPerL - bleach.haveGPerL };
	return { kind: "parts", waterPerPart: Math.max(0, ratio - 1) };
}

/**
 * Bleach and water for a use solution that is made up to a final volume.
 *
 * @param solution `haveGPerL`, `wantGPerL` 0.01 to 200 g/L; `finalVolumeL` 0.05 to 1000 L in the bucket when ready
 * @returns mL of bleach, and mL of water that bring it to the final volume; or "tooWeak"
 * @throws RangeError outside these ranges
 * Source: C1 V1 = C2 V2. "Made up to" counts the bleach in the final volume; adding the same bleach to that volume of water gives less.
 */
export function madeUpTo(solution: {
	readonly haveGPerL: number;
	readonly wantGPerL: number;
	readonly finalVolumeL: number;
}): { readonly kind: "made"; readonly bleachMl: number; readonly waterMl: number } | Extract<DilutionParts, { kind: "tooWeak" }> {
	const parts = dilutionParts(solution);
	const finalMl = valueWithin("final volume in L", solution.finalVolumeL, 0.05, 1000) * 1000;
	if (parts.kind === "tooWeak") return parts;
	const bleachMl = finalMl / (1 + parts.waterPerPart);
	return { kind: "made", bleachMl, waterMl: finalMl - bleachMl };
}

/**
 * Strength when bleach is made up with water to a final volume.
 *
 * @param mix `strengthGPerL` 0.01 to 200 g/L; `bleachMl` 0 to 1 000 000 mL; `finalVolumeMl` at least the bleach
 * @returns g/L as Cl2
 * @throws RangeError outside these ranges
 */
export function strengthMadeUpTo(mix: {
	readonly strengthGPerL: number;
	readonly bleachMl: number;
	readonly finalVolumeMl: number;
}): number {
	const bleach = valueWithin("bleach in mL", mix.bleachMl, 0, 1_000_000);
	const final = valueWithin("final volume in mL", mix.finalVolumeMl, Math.max(bleach, 0.001), 2_000_000);
	return (strength("strength", mix.strengthGPerL) * bleach) / final;
}

/**
 * Strength when bleach is added to a volume of water: the recipe that looks like "made up to" and isn't.
 *
 * @param mix `strengthGPerL` 0.01 to 200 g/L; `bleachMl` and `waterMl` 0 to 1 000 000 mL, not both 0
 * @returns g/L as Cl2
 * @throws RangeError outside these ranges
 */
export function strengthAddedTo(mix: {
	readonly strengthGPerL: number;
	readonly bleachMl: number;
	readonly waterMl: number;
}): number {
	const water = valueWithin("water in mL", mix.waterMl, 0, 1_000_000);
	return strengthMadeUpTo({ ...mix, finalVolumeMl: mix.bleachMl + water });
}

/**
 * Powder for a litre of solution.
 *
 * @param powder `wantGPerL` 0.01 to 200 g/L as Cl2; `availablePercent` by weight of the powder, 1 to 100 %
 * @returns g of powder per L
 * @throws RangeError outside these ranges
 * Source: CDC, Best practices for environmental cleaning, appendix E.
 */
export function powderGPerL(powder: { readonly wantGPerL: number; readonly availablePercent: number }): number {
	const percent = valueWithin("available chlorine of the powder in %", powder.availablePercent, 1, 100);
	return (strength("wanted strength", powder.wantGPerL) / percent) * 100;
}
