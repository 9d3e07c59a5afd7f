import { valueWithin } from "./valid-range.js";

const strength = (gPerL: number): number => valueWithin("strength in g/L", gPerL, 0.1, 150);
const water = (volumeL: number): number => valueWithin("water in L", volumeL, 0.1, 1_000_000);

/**
 * Bleach that gives a volume of water a dose.
 *
 * @param fill `doseMgPerL` 0 to 100 mg/L; `waterVolumeL` 0.1 to 1 000 000 L; `strengthGPerL` 0.1 to 150 g/L as Cl2
 * @returns mL, not rounded; what the bleach itself adds to the volume is neglected (0.04 % at 7.5 mL in 20 L)
 * @throws RangeError outside these ranges
 * Source: mL = dose (mg/L) · water (L) / strength (g/L).
 */
export function bleachMl(fill: {
	readonly doseMgPerL: number;
	readonly waterVolumeL: number;
	readonly strengthGPerL: number;
}): number {
	return (valueWithin("dose in mg/L", fill.doseMgPerL, 0, 100) * water(fill.waterVolumeL)) / strength(fill.strengthGPerL);
}

/**
 * Dose that a volume of bleach gives.
 *
 * @param fill `volumeMl` of bleach, 0 to 1 000 000 mL; `waterVolumeL` and `strengthGPerL` as for `bleachMl`
 * @returns mg/L as Cl2
 * @throws RangeError outside these ranges
 */
export function doseMgPerL(fill: {
	readonly volumeMl: number;
	readonly waterVolumeL: number;
	readonly strengthGPerL: number;
}): number {
	return (valueWithin("bleach in mL", fill.volumeMl, 0, 1_000_000) * strength(fill.strengthGPerL)) / water(fill.waterVolumeL);
}

/**
 * Chlorate that a volume of bleach brings into the water.
 *
 * @param fill `volumeMl` 0 to 1 000 000 mL; `waterVolumeL` as above; `chlorateInStockMgPerL` 0 to 100 000 mg/L in the bleach
 * @returns mg/L
 * @throws RangeError outside these ranges
 */
export function chlorateAddedMgPerL(fill: {
	readonly volumeMl: number;
	readonly waterVolumeL: number;
	readonly chlorateInStockMgPerL: number;
}): number {
	const stock = valueWithin("chlorate in the bleach in mg/L", fill.chlorateInStockMgPerL, 0, 100_000);
	return (valueWithin("bleach in mL", fill.volumeMl, 0, 1_000_000) * stock) / 1000 / water(fill.waterVolumeL);
}
