import { around, between, drawsFor, happens, weighted } from "../../demo/draws.js";
import type { Wall } from "../../science/exposure.js";
import { comparatorWholeSteps, type Dilution } from "../../science/kits.js";
import { bandEdgesMgPerL, dilutionFactor } from "../../science/reading.js";
import { KEEPING, PEOPLE, READING } from "./constants.js";

/** What a volunteer is like. */
export interface Character {
	readonly answers: "soon" | "late";
	readonly isCareless: boolean;
	/** Of the jars that she fills. */
	readonly wall: Wall;
}

export function characterOf(seed: number, volunteerCode: string): Character {
	const draws = drawsFor(seed, "character", volunteerCode);
	return {
		answers: happens(draws, PEOPLE.lateShare) ? "late" : "soon",
		isCareless: happens(draws, PEOPLE.carelessShare),
		wall: weighted(draws, KEEPING.walls),
	};
}

/** @returns whether she is ill on a day: an illness begins in some weeks and takes some days */
export function isIll(seed: number, volunteerCode: string, day: number): boolean {
	const week = Math.floor(day / 7);
	return [week - 1, week, week - 2].some((of) => {
		const draws = drawsFor(seed, "illness", volunteerCode, of);
		if (!happens(draws, PEOPLE.illShareOfWeeks)) return false;
		const first = of * 7 + draws.below(7);
		return day >= first && day < first + Math.floor(between(draws, PEOPLE.illDays.from, PEOPLE.illDays.below));
	});
}

export const isPhoneOff = (seed: number, personCode: string, day: number): boolean =>
	happens(drawsFor(seed, "phone", personCode, day), PEOPLE.phoneOffShareOfDays);

/** @returns hours from a message to its answer, for a message of that day */
export const answerHours = (seed: number, { answers }: Character, volunteerCode: string, about: string, day: number): number =>
	around(drawsFor(seed, "answers", volunteerCode, about, day), PEOPLE.delayHours[answers], PEOPLE.delayLnSd);

/** @returns hours until a supervisor who was told of late work has been there; undefined: she doesn't go */
export function supervisorHours(seed: number, supervisorCode: string, about: string, day: number): number | undefined {
	const draws = drawsFor(seed, "supervisor", supervisorCode, about, day);
	if (!happens(draws, PEOPLE.supervisorGoesShare)) return undefined;
	return between(draws, PEOPLE.supervisorHours.from, PEOPLE.supervisorHours.below);
}

/** @returns whether a careless volunteer sends last time's colour without testing */
export const isMadeUp = (seed: number, { isCareless }: Character, volunteerCode: string, day: number): boolean =>
	isCareless && happens(drawsFor(seed, "made up", volunteerCode, day), PEOPLE.madeUpShare);

const KIT = comparatorWholeSteps;
const LAST_BAND = KIT.standardsMgPerL.length - 1;

/** @returns the colour that somebody reads of a diluted sample, as it is printed on the card */
export function strengthReading(
	seed: number,
	testerCode: string,
	about: string,
	day: number,
	strengthGPerL: number,
	dilution: Dilution,
): string {
	const draws = drawsFor(seed, "strength reading", testerCode, about, day);
	const shownMgPerL = around(draws, (strengthGPerL * 1000) / dilutionFactor(dilution), READING.strengthLnSd);
	const nearest = bandEdgesMgPerL(KIT).filter((edge) => edge <= shownMgPerL).length;
	const beside = happens(draws, READING.misreadShare) ? (happens(draws, 0.5) ? 1 : -1) : 0;
	const band = happens(draws, READING.slipShare) ? draws.below(LAST_BAND + 1) : nearest + beside;
	return String(KIT.standardsMgPerL[Math.max(0, Math.min(LAST_BAND, band))]);
}

/** @returns what a household's kit shows, mg/L: to 0.1 up to 1, to 0.5 above */
export function residualReading(seed: number, householdCode: string, day: number, trueMgPerL: number): string {
	const shown = around(drawsFor(seed, "residual reading", householdCode, day), trueMgPerL, READING.residualLnSd);
	return String(shown < 1 ? Math.round(shown * 10) / 10 : Math.round(shown * 2) / 2);
}
