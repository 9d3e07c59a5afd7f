import { valueWithin } from "./valid-range.js";

/** What a volunteer measures bleach with. */
export type Measure =
	/** Capacity and smallest graduation, mL. */
	| { readonly kind: "syringe"; readonly capacityMl: number; readonly stepMl: number }
	/** A level cap, mL. */
	| { readonly kind: "cap"; readonly volumeMl: number }
	/** A level spoon, mL; plastic, never metal. */
	| { readonly kind: "spoon"; readonly volumeMl: number };

/** The measure in every volunteer's bag: 10 mL in steps of 0.5 mL. */
export const defaultMeasure: Measure = { kind: "syringe", capacityMl: 10, stepMl: 0.5 };

/** A volume as a measure shows it. */
export interface MeasuredVolume {
	readonly volumeMl: number;
	/** Graduation steps, caps or spoons. */
	readonly units: number;
	/** Times the measure is filled, the last time perhaps in part; caps and spoons count one each. */
	readonly fills: number;
	/** What the last fill holds, mL. */
	readonly lastFillMl: number;
}

/** Guards the comparison of volumes that were reached by different arithmetic. */
const SAME = 1e-9;

function unitMl(measure: Measure): number {
	if (measure.kind !== "syringe") return valueWithin(`${measure.kind} in mL`, measure.volumeMl, 0.5, 1000);
	const stepMl = valueWithin("syringe step in mL", measure.stepMl, 0.01, 50);
	valueWithin("syringe capacity in mL", measure.capacityMl, stepMl, 1000, "a syringe holds at least one step");
	return stepMl;
}

function shown(measure: Measure, units: number): MeasuredVolume {
	const volumeMl = units * unitMl(measure);
	const capacityMl = measure.kind === "syringe" ? measure.capacityMl : measure.volumeMl;
	const fills = Math.ceil(volumeMl / capacityMl - SAME);
	return { volumeMl, units, fills, lastFillMl: volumeMl - (fills - 1) * capacityMl };
}

/**
 * Nearest volume that a measure can show.
 *
 * @param volumeMl wanted, above 0 to 1 000 000 mL
 * @param measure syringe step 0.01 to 50 mL, cap or spoon 0.5 to 1000 mL
 * @returns whole steps, caps or spoons; halfway goes up, so that rounding alone never under-doses; at least one
 * @throws RangeError outside these ranges
 */
export function nearestMeasured(volumeMl: number, measure: Measure): MeasuredVolume {
	valueWithin("wanted volume in mL", volumeMl, Number.MIN_VALUE, 1_000_000);
	return shown(measure, Math.max(1, Math.floor(volumeMl / unitMl(measure) + 0.5 + SAME)));
}

/**
 * Volume within bounds that a measure can show, nearest to the wanted one.
 *
 * @param wanted `volumeMl`, `lowestMl`, `highestMl`, each above 0 to 1 000 000 mL
 * @param measure as for `nearestMeasured`
 * @returns the volume, or null when no step lies within the bounds
 * @throws RangeError outside these ranges
 */
export function measuredWithin(
	wanted: { readonly volumeMl: number; readonly lowestMl: number; readonly highestMl: number },
	measure: Measure,
): MeasuredVolume | null {
	const unit = unitMl(measure);
	const lowest = Math.max(1, Math.ceil(valueWithin("lowest volume in mL", wanted.lowestMl, 0, 1_000_000) / unit - SAME));
	const highest = Math.floor(valueWithin("highest volume in mL", wanted.highestMl, 0, 1_000_000) / unit + SAME);
	if (lowest > highest) return null;
	return shown(measure, Math.min(highest, Math.max(lowest, nearestMeasured(wanted.volumeMl, measure).units)));
}

/**
 * Share of the last content that stays in a measure after rinsing.
 *
 * @param rinsing `deadVolumeMl` left after emptying, 0 to 50 mL; `rinseVolumeMl` drawn each time, 0.1 to 1000 mL; `rinses` 0 to 10
 * @returns share of the concentration before: 1 without rinsing
 * @throws RangeError outside these ranges
 * Assumes that each rinse mixes fully. Three rinses before reuse: common practice, no source.
 */
export function carryOverShare(rinsing: {
	readonly deadVolumeMl: number;
	readonly rinseVolumeMl: number;
	readonly rinses: number;
}): number {
	const dead = valueWithin("volume left in the measure in mL", rinsing.deadVolumeMl, 0, 50);
	const rinse = valueWithin("rinse in mL", rinsing.rinseVolumeMl, 0.1, 1000);
	return (dead / (dead + rinse)) ** valueWithin("rinses", rinsing.rinses, 0, 10);
}
