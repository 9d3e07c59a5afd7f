import type { PHClass } from "../../science/contact-time.js";
import { valueWithin } from "../../science/valid-range.js";
import type { Protocol } from "./protocol.js";

/** What is known of a water; what is left out is taken as warm enough and as of pH under 8, and listed among the assumptions. */
export interface WaterConditions {
	/** 0 to 45 °C. */
	readonly waterTemperatureC?: number | undefined;
	readonly pHClass?: PHClass | undefined;
}

/**
 * Minutes between dosing and drinking or testing, by a protocol's own rule.
 *
 * @param contact the protocol's rule
 * @param water temperature 0 to 45 °C and pH as far as they are known
 * @returns min, rounded up to a whole one
 * @throws RangeError for a temperature outside its range
 * Source of the form, where a protocol uses it: minutes · max(1, 2^((limit - T)/step)) · factor; see `contactMinutes`.
 */
export function contactMinutesIn(contact: Protocol["contact"], water: WaterConditions = {}): number {
	const { waterTemperatureC, pHClass } = water;
	if (waterTemperatureC !== undefined) valueWithin("water temperature in °C", waterTemperatureC, 0, 45);
	const cold =
		contact.cold && waterTemperatureC !== undefined
			? Math.max(1, 2 ** ((contact.cold.belowC - waterTemperatureC) / contact.cold.doubledEachC))
			: 1;
	const atPH = pHClass === "aboveEight" ? contact.factorAtPH8AndOver : 1;
	// The smallest amount over a whole minute is rounding of the floating point, not another minute.
	return Math.ceil(contact.minutes * cold * atPH - 1e-9);
}

/** @returns the minutes of a wait as it is written: its own, or the contact time */
export function waitMinutesIn(contact: Protocol["contact"], wait: number | "contact", water: WaterConditions = {}): number {
	return wait === "contact" ? contactMinutesIn(contact, water) : wait;
}
