import { type Battery, peukertHours } from "./battery.js";
import { valueWithin } from "./valid-range.js";

/**
 * Share of a full charge that a run draws.
 *
 * @param draw battery as its label rates it, `currentA` 0.05 to 500 A, `minutes` 0 to 2880
 * @returns share of full; above 1 where the run is longer than the battery lasts
 * @throws RangeError outside these ranges
 * Source: time over the time to flat at this current, Peukert 1897 at the rated hours.
 */
export function drawnShare(draw: { readonly battery: Battery; readonly currentA: number; readonly minutes: number }): number {
	return valueWithin("run in minutes", draw.minutes, 0, 2880) / (peukertHours(draw.battery, draw.currentA) * 60);
}

/** Less than this between two readings is lost in the error of the meter, share of full. Own choice: a 1 % meter is 0.15. */
const LEAST_FALL = 0.1;

/**
 * Capacity that a battery still has, from what runs drew between two readings at rest without charging in between.
 *
 * @param between `drawnShare` of the label's capacity, 0 or more; share of charge before and after, each 0 to 1
 * @returns share of the label's capacity; above 1 where it gave more than its label; null where the charge fell by less than 0.1, or rose
 * @throws RangeError outside these ranges
 * Source: coulomb count over change of charge, the usual estimate of a battery's health (common practice, no source).
 */
export function capacityShare(between: {
	readonly drawnShare: number;
	readonly shareBefore: number;
	readonly shareAfter: number;
}): number | null {
	const drawn = valueWithin("drawn share", between.drawnShare, 0, 100);
	const fell =
		valueWithin("charge before (share of full)", between.shareBefore, 0, 1) -
		valueWithin("charge after (share of full)", between.shareAfter, 0, 1);
	return fell < LEAST_FALL || drawn === 0 ? null : drawn / fell;
}
