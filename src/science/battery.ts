import { valueWithin } from "./valid-range.js";

/** A lead-acid battery as its label rates it. */
export interface Battery {
	/** Capacity on the label, A h, 1 to 2000. */
	readonly capacityAh: number;
	/** Hours that the label's capacity is rated at, 1 to 100; 20 for most car batteries. Default 20. */
	readonly ratedHours?: number;
	/** Peukert exponent, 1 to 1.6: flooded 1.2 to 1.6, gel 1.1 to 1.25, AGM 1.05 to 1.15 (secondary). Default 1.2. */
	readonly peukertExponent?: number;
}

/** Share of charge at which a run stops: deeper discharge shortens a lead-acid battery's life. */
export const STOP_SHARE = 0.5;

/**
 * Hours from full to flat at a current, by Peukert's law at the rated hours.
 *
 * @param battery label values
 * @param currentA load, 0.05 to 500 A
 * @returns h; the rated hours themselves at the rated current
 * @throws RangeError outside these ranges
 * Source: Peukert 1897, t = H·(C/(I·H))^k; the form t = C/I^k misuses a 20 h rating and isn't used.
 */
export function peukertHours(battery: Battery, currentA: number): number {
	const capacityAh = valueWithin("battery capacity in A h", battery.capacityAh, 1, 2000);
	const hours = valueWithin("rated hours", battery.ratedHours ?? 20, 1, 100);
	const exponent = valueWithin("Peukert exponent", battery.peukertExponent ?? 1.2, 1, 1.6);
	valueWithin("current in A", currentA, 0.05, 500);
	return hours * (capacityAh / (currentA * hours)) ** exponent;
}

/**
 * Minutes that a charge lasts at a current before the stop share is reached.
 *
 * @param draw battery, `currentA` 0.05 to 500 A, `share` of full charge now 0 to 1, `stopShare` 0.2 to 0.9 (default 0.5)
 * @returns minutes, 0 when the stop share is reached or passed
 * @throws RangeError outside these ranges
 */
export function batteryMinutes(draw: {
	readonly battery: Battery;
	readonly currentA: number;
	readonly share: number;
	readonly stopShare?: number;
}): number {
	const share = valueWithin("charge (share of full)", draw.share, 0, 1);
	const stopShare = valueWithin("stop share", draw.stopShare ?? STOP_SHARE, 0.2, 0.9);
	return peukertHours(draw.battery, draw.currentA) * Math.max(0, share - stopShare) * 60;
}

/** Bounds of a share of charge, as a rest voltage gives them. */
export interface ShareBounds {
	readonly lowShare: number;
	readonly share: number;
	readonly highShare: number;
}

/** Whether a battery carries a run: "enough" even at the lower bound, "doubtful" between the bounds, "notEnough" even at the upper. */
export interface BatteryVerdict {
	readonly kind: "enough" | "doubtful" | "notEnough";
	readonly lowMinutes: number;
	readonly minutes: number;
	readonly highMinutes: number;
	/** Charge that the run draws, A h. */
	readonly neededAh: number;
	/** Charge that is left for it at this current above the stop share, middle estimate, A h. */
	readonly leftAh: number;
}

/**
 * Whether a battery carries a run at its current.
 *
 * @param run battery, bounds of its charge (each 0 to 1), `currentA` 0.05 to 500 A, `runMinutes` 0 to 2880 min, `stopShare` 0.2 to 0.9
 * @returns verdict with minutes at the three charges, charge needed and left; "doubtful" is to be read as: charge it first
 * @throws RangeError outside these ranges
 * A battery that wasn't full is the usual reason of a weak batch (common practice, no source).
 */
export function batteryForRun(run: {
	readonly battery: Battery;
	readonly charge: ShareBounds;
	readonly currentA: number;
	readonly runMinutes: number;
	readonly stopShare?: number;
}): BatteryVerdict {
	const { battery, currentA, stopShare } = run;
	const runMinutes = valueWithin("run in minutes", run.runMinutes, 0, 2880);
	const minutesAt = (share: number): number => batteryMinutes({ battery, currentA, share, stopShare });
	const lowMinutes = minutesAt(run.charge.lowShare);
	const minutes = minutesAt(run.charge.share);
	const highMinutes = minutesAt(run.charge.highShare);
	const kind = lowMinutes >= runMinutes ? "enough" : highMinutes < runMinutes ? "notEnough" : "doubtful";
	return { kind, lowMinutes, minutes, highMinutes, neededAh: (currentA * runMinutes) / 60, leftAh: (currentA * minutes) / 60 };
}
