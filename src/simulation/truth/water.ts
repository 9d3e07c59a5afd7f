import { around, drawsFor, happens } from "../../demo/draws.js";
import { freeChlorineMgPerL } from "../../demo/residual-checks.js";
import { WATER } from "./constants.js";

/** Hours from dosing until the water may be drunk, and until it is poured out for new. */
export const DRUNK_HOURS = { from: 0.5, until: 24 } as const;

/** What a household's water does to chlorine on one day. */
export interface DayWater {
	readonly demandMgPerL: number;
	readonly decayPerHour: number;
}

export const isCloudy = (seed: number, householdCode: string): boolean =>
	happens(drawsFor(seed, "source", householdCode), WATER.cloudyShare);

/** @returns the water of a household on a day: most of what sets it apart lasts, the rest is the day's */
export function waterOf(seed: number, householdCode: string, day: number, cloudy: boolean): DayWater {
	const of = cloudy ? WATER.cloudy : WATER.clear;
	const lasting = drawsFor(seed, "water", householdCode);
	const today = drawsFor(seed, "water", householdCode, day);
	const [last, rest] = [Math.sqrt(WATER.lastingShareOfVariance), Math.sqrt(1 - WATER.lastingShareOfVariance)];
	return {
		demandMgPerL: around(lasting, of.demandMgPerL, of.demandLnSd * last) * around(today, 1, of.demandLnSd * rest),
		decayPerHour: around(lasting, of.decayPerHour, of.decayLnSd * last) * around(today, 1, of.decayLnSd * rest),
	};
}

/** @returns what a household really measures of what it was told, as a share */
export const measuredShare = (seed: number, householdCode: string, day: number): number =>
	around(drawsFor(seed, "measures", householdCode, day), 1, WATER.measuringLnSd);

export const residualMgPerL = (doseMgPerL: number, water: DayWater, hours: number): number =>
	freeChlorineMgPerL(doseMgPerL, water, hours);

/**
 * Hours of a stretch of time on which water is under a limit or over another.
 *
 * C(t) = C0·e^(-k·t) falls: it is over the upper limit first and under the lower one last.
 *
 * @param startMgPerL free chlorine when the stretch begins, its demand met; at least 0
 * @param decayPerHour of the water
 * @param hours length of the stretch
 * @param limits least and most free chlorine where water is drunk, mg/L
 * @returns two numbers of hours, each 0 to the length
 */
export function unsafeHours(
	startMgPerL: number,
	decayPerHour: number,
	hours: number,
	limits: { readonly least: number; readonly most: number },
): { readonly under: number; readonly over: number } {
	const hoursAbove = (limit: number) =>
		startMgPerL <= limit ? 0 : Math.min(hours, Math.log(startMgPerL / limit) / decayPerHour);
	return { under: hours - hoursAbove(limits.least), over: hoursAbove(limits.most) };
}
