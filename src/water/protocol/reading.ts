import { DefectError } from "../../errors/errors.js";
import { valueWithin } from "../../science/valid-range.js";
import { type Caution, cautionsFor } from "./cautions.js";
import { bandsHolding } from "./ends.js";
import { guideline } from "./guideline.js";
import type { Band, Check, End, Meaning, Outcome, Protocol } from "./protocol.js";
import { contactMinutesIn, type WaterConditions, waitMinutesIn } from "./waits.js";

/** How far one fill of a container has come. Plain values: it can be kept as it is. */
export interface FillSoFar {
	/** The check that is waited for. */
	readonly check: string;
	/** Minutes that must have passed before its reading counts. */
	readonly waitMinutes: number;
	/** How often a reading has fallen in a band, by "check/band". */
	readonly times: Readonly<Record<string, number>>;
}

/** A reading of the free residual. */
export interface ResidualCheckReading extends WaterConditions {
	/** 0 to 50 mg/L. */
	readonly freeChlorineMgPerL: number;
	/** Since the dose, or since what the last reading asked for was done, min; null: nobody knows. */
	readonly minutesWaited: number | null;
	/** Last dose, where it is known, mg/L: after a strong one a kit may lose its colour. */
	readonly doseMgPerL?: number;
}

export type NextStep = { readonly check: string; readonly dueAfterMinutes: number } | { readonly end: End };

/** What a reading means, and what follows. */
export interface WhatFollows {
	readonly check: string;
	/** Code of the band that the reading falls in, also where it doesn't count. */
	readonly band: string;
	readonly meaning: Meaning | "tooEarly";
	/** Kept, but not counted: the wait wasn't over, or nobody knows whether it was. */
	readonly tooEarly: boolean;
	readonly action: { readonly code: string; readonly text: string };
	readonly cautions: readonly Caution[];
	/** Until the next check, min; 0 where the steps end. */
	readonly waitMinutes: number;
	readonly next: NextStep;
	readonly tellSupervisor: boolean;
	readonly fitToDrink: boolean;
	/** What was taken for granted because nobody measured it. */
	readonly assumptions: readonly ("pH" | "waterTemperature")[];
	/** Where the fill stands now; null where its steps have ended. */
	readonly soFar: FillSoFar | null;
}

/**
 * A fill that has just been dosed.
 *
 * @param protocol of the household
 * @param water temperature 0 to 45 °C and pH as far as they are known: they set the wait
 * @returns the first check, due once the contact time is over
 * @throws RangeError for a temperature outside its range
 */
export function fillAfterDose(protocol: Protocol, water: WaterConditions = {}): FillSoFar {
	const check = protocol.checks.find(({ begins }) => begins === "afterDose");
	if (!check) throw new DefectError(`protocol ${protocol.code} has no check after a dose`);
	return { check: check.code, waitMinutes: contactMinutesIn(protocol.contact, water), times: {} };
}

/**
 * Stored water that is found at a visit, and for which no check is waited for.
 *
 * @param protocol of the household
 * @returns the check at the point of use, due at once; null where the protocol has none
 */
export function fillAtVisit(protocol: Protocol): FillSoFar | null {
	const check = protocol.checks.find(({ begins }) => begins === "atVisit");
	return check ? { check: check.code, waitMinutes: 0, times: {} } : null;
}

/**
 * What follows from a reading, by the household's protocol.
 *
 * @param protocol an accepted one: exactly one band holds each reading
 * @param soFar where the fill stood
 * @param reading residual 0 to 50 mg/L, minutes waited, and what is known of the water
 * @returns band, meaning, act, wait, next check or end, who is told, and whether the water may be drunk. A reading before its wait is over,
 *   or of which nobody knows it where there is a wait, is flagged `tooEarly`: it counts for nothing, the water isn't fit yet, and the
 *   same check is due once the rest of the wait (all of it where nobody knows) is over
 * @throws RangeError outside these ranges; DefectError where the fill isn't one of this protocol
 */
export function whatFollows(protocol: Protocol, soFar: FillSoFar, reading: ResidualCheckReading): WhatFollows {
	const check = protocol.checks.find(({ code }) => code === soFar.check);
	if (!check) throw new DefectError(`a fill waits for check "${soFar.check}", which protocol ${protocol.code} doesn't have`);
	valueWithin("free chlorine in mg/L", reading.freeChlorineMgPerL, 0, 50, "dilute the sample, read again and multiply");
	if (reading.minutesWaited !== null) valueWithin("minutes waited", reading.minutesWaited, 0, 1_000_000);

	const band = bandOf(protocol, check, reading);
	const leftMinutes = soFar.waitMinutes - (reading.minutesWaited ?? 0);
	if (leftMinutes > 0) return tooEarly(check, band, soFar, Math.ceil(leftMinutes));

	const key = `${check.code}/${band.code}`;
	const time = (soFar.times[key] ?? 0) + 1;
	const outcome: Outcome = band.repeated && time >= band.repeated.time ? band.repeated : band;
	const { action, next } = outcome;
	const ended = "end" in next;
	const waitMinutes = ended ? 0 : waitMinutesIn(protocol.contact, next.afterMinutes, reading);
	return {
		check: check.code,
		band: band.code,
		meaning: band.meaning,
		tooEarly: false,
		action: { code: action.code, text: action.text },
		cautions: cautionsFor(action.does, isMaybeBleachedOut(band.meaning, reading)),
		waitMinutes,
		next: ended ? next : { check: next.check, dueAfterMinutes: waitMinutes },
		tellSupervisor: outcome.tellSupervisor,
		fitToDrink: band.meaning === "fit" && !(ended && next.end !== "drink"),
		assumptions: assumptionsOf(protocol, check, reading, outcome),
		soFar: ended ? null : { check: next.check, waitMinutes, times: { ...soFar.times, [key]: time } },
	};
}

function bandOf(protocol: Protocol, check: Check, { freeChlorineMgPerL, pHClass }: ResidualCheckReading): Band {
	const bands = (pHClass === "aboveEight" ? check.bandsAtPH8AndOver : undefined) ?? check.bands;
	const [band, ...more] = bandsHolding(bands, freeChlorineMgPerL);
	if (!band || more.length > 0)
		throw new DefectError(`protocol ${protocol.code} has ${more.length + (band ? 1 : 0)} bands for ${freeChlorineMgPerL} mg/L`);
	return band;
}

function tooEarly(check: Check, band: Band, soFar: FillSoFar, waitMinutes: number): WhatFollows {
	return {
		check: check.code,
		band: band.code,
		meaning: "tooEarly",
		tooEarly: true,
		action: {
			code: "wait",
			text: `Too early: don't drink this water yet. Wait ${waitMinutes} minutes more, then test again.`,
		},
		cautions: [],
		waitMinutes,
		next: { check: check.code, dueAfterMinutes: waitMinutes },
		tellSupervisor: false,
		fitToDrink: false,
		assumptions: [],
		soFar,
	};
}

/** Source: kit manuals: DPD loses its colour over about 8 to 10 mg/L, so that a strong water reads as an empty one. */
function isMaybeBleachedOut(meaning: Meaning, { doseMgPerL }: ResidualCheckReading): boolean {
	return meaning === "tooLow" && doseMgPerL !== undefined && doseMgPerL >= guideline.kitsMayBleachFromMgPerL;
}

function assumptionsOf(
	{ contact }: Protocol,
	check: Check,
	water: WaterConditions,
	{ next }: Pick<Outcome, "action" | "next">,
): WhatFollows["assumptions"] {
	const waitsForContact = "check" in next && next.afterMinutes === "contact";
	const usesPH = check.bandsAtPH8AndOver !== undefined || (waitsForContact && contact.factorAtPH8AndOver > 1);
	const usesTemperature = waitsForContact && contact.cold !== null;
	return [
		...(usesPH && water.pHClass === undefined ? (["pH"] as const) : []),
		...(usesTemperature && water.waterTemperatureC === undefined ? (["waterTemperature"] as const) : []),
	];
}
