import { PLANNED_DOSE_MG_PER_L } from "./dose-answer.js";
import { upperTail } from "./normal.js";
import { DEMAND_HOURS, decayTemperatureFactor } from "./residual.js";
import type { ReadingSpread, ResidualBelief } from "./residual-belief.js";
import { valueWithin } from "./valid-range.js";

// Looked up once: where the global object is sandboxed, each `Math.` in these loops costs as much as the logarithm itself.
const { exp, log } = Math;

/** What a household's own dose is chosen by. */
export interface OwnDoseQuestion {
	/** Of the household's water, by its own readings. */
	readonly belief: ResidualBelief;
	/** What its protocol doses such water with, mg/L, 0.5 to 10. */
	readonly plannedMgPerL: number;
	/** Water in store, °C, 0 to 45. */
	readonly temperatureC: number;
	/** For how long the water is drunk after it was dosed, h, 0.5 to 168. */
	readonly hours: number;
	/** Least free chlorine until then, mg/L, 0.1 to 1; and most once the demand is met, 1 to 5. */
	readonly leastMgPerL: number;
	readonly mostMgPerL: number;
	/** Chance of less than the least that is accepted, 0.005 to 0.5. */
	readonly tolerance: number;
	/** The largest share of the planned dose, 1 to 2. */
	readonly mostTimes: number;
}

/** A household is told its dose in quarters of the one on the jar: more can't be told in a few words, nor measured. */
const STEP = 0.25;

/**
 * How much a household's water changes from one day to the next: log-sd of the demand. Own choice, no source: rain, another jerrycan, what
 * the vessel held before.
 */
export const DEMAND_DAY_LN_SD = 0.4;

/** How much a dose is off: log-sd, of the strength of its bleach and of the hand that measures it. Own choice. */
export const DOSE_LN_SD = 0.2;

/**
 * What a reading of a household's water is weighed with where its own dose is set by it. Households differ by twice what the classes of water
 * have: with the spreads of days and doses that leaves 15 % of clear water under 0.2 mg/L a day after 1.875 mg/L, and 18 % of cloudy water
 * 8 h after 3.75 mg/L. Source: fitted to Wilhelm et al. 2018, J Water Health 16:112, abstract: 13 to 18 %, and 17 %.
 */
export const DAY_TO_DAY: ReadingSpread = { demandDayLnSd: DEMAND_DAY_LN_SD, doseLnSd: DOSE_LN_SD, classSdTimes: 2 };

/** A dose that is off by that much, in three points. */
const DOSES = [-1, 0, 1].map((side) => ({ times: exp(side * Math.sqrt(3) * DOSE_LN_SD), share: side === 0 ? 2 / 3 : 1 / 6 }));

/**
 * Chance that a dose leaves less than a limit when so many hours have gone by.
 *
 * Source: C(t) = (D·e^(r·y) - d·e^(s·z))·e^(-k·(t - 0.5 h)) with y and z standard normal: what a dose really is, the demand of a household,
 * and of a day. Over y by three points of Gauss and Hermite: Abramowitz & Stegun 1964, table 25.10.
 */
export function chanceOfTooLittle(
	{ nodes }: Pick<ResidualBelief, "nodes">,
	fill: { readonly doseMgPerL: number; readonly temperatureC: number; readonly hours: number; readonly leastMgPerL: number },
): number {
	const factor = decayTemperatureFactor(fill.temperatureC);
	let chance = 0;
	for (const { demandMgPerL, kPerHourAt25C, weight } of nodes) {
		const needed = fill.leastMgPerL * exp(kPerHourAt25C * factor * (fill.hours - DEMAND_HOURS));
		for (const { times, share } of DOSES) {
			const spare = fill.doseMgPerL * times - needed;
			if (spare <= 0) chance += weight * share;
			else if (demandMgPerL > 0) chance += weight * share * upperTail(log(spare / demandMgPerL) / DEMAND_DAY_LN_SD);
		}
	}
	return Math.min(1, chance);
}

/**
 * Chance that a dose leaves more than a limit once the demand is met.
 *
 * Source: D·e^(r·y) - d·e^(s·z), as above, half an hour after dosing.
 */
export function chanceOfTooMuch({ nodes }: Pick<ResidualBelief, "nodes">, doseMgPerL: number, mostMgPerL: number): number {
	let chance = 0;
	for (const { times, share } of DOSES) {
		const spare = doseMgPerL * times - mostMgPerL;
		if (spare <= 0) continue;
		for (const { demandMgPerL, weight } of nodes)
			chance += share * weight * (demandMgPerL > 0 ? upperTail(log(demandMgPerL / spare) / DEMAND_DAY_LN_SD) : 1);
	}
	return Math.min(1, chance);
}

/** Chance of more than the guideline value, for a part of the day, that is accepted for a raised dose. Own choice. */
const TOO_MUCH = 0.1;

/**
 * How many times its protocol's dose a household's water takes, by what its own readings have told.
 *
 * @param question see the fields
 * @returns 1, 1.25, 1.5, 1.75 or 2, at most what is allowed: the least that leaves enough until the end of use with the chance that is
 *   asked for, or the most that hardly ever passes the upper limit. Never less than the protocol's own dose
 * @throws RangeError for values outside their documented ranges
 * Caution: a dose above the protocol's is for water that was read to need it; whoever looks after a household watches its taste, and the
 *   local health authority's own limits come first.
 * Source: own rule; the idea that the dose is set by what must be left where the water is drunk: Ali et al. 2015, Bull. World Health
 *   Organ. 93:550. Doubled at the most, as the household scheme itself doubles its dose for water that takes more (Lantagne 2008).
 */
export function ownDoseTimes(question: OwnDoseQuestion): number {
	const { belief, temperatureC, hours, leastMgPerL, mostMgPerL } = question;
	const plannedMgPerL = valueWithin(
		"planned dose in mg/L",
		question.plannedMgPerL,
		PLANNED_DOSE_MG_PER_L.least,
		PLANNED_DOSE_MG_PER_L.most,
	);
	const tolerance = valueWithin("tolerance", question.tolerance, 0.005, 0.5);
	const mostTimes = valueWithin("most times the planned dose", question.mostTimes, 1, 2);
	valueWithin("hours of use", hours, DEMAND_HOURS, 168);
	valueWithin("least residual in mg/L", leastMgPerL, 0.1, 1);
	valueWithin("most residual in mg/L", mostMgPerL, 1, 5);
	let times = 1;
	for (let next = 1; next <= mostTimes + 1e-9; next += STEP) {
		const doseMgPerL = plannedMgPerL * next;
		if (next > 1 && chanceOfTooMuch(belief, doseMgPerL, mostMgPerL) > TOO_MUCH) return times;
		times = next;
		if (chanceOfTooLittle(belief, { doseMgPerL, temperatureC, hours, leastMgPerL }) <= tolerance) return times;
	}
	return times;
}
