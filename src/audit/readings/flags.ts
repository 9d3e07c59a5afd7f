import { readingAdvice } from "../../science/made-up-readings.js";
import { rounded } from "../../science/rounded.js";
import { oddIntervals, type TimedVisit } from "../../science/visit-times.js";
import { localTimeOf } from "../../time/local.js";
import { FALSE_SHARE, type FlagCheck, METHODS, NIGHT, TIME_LIMITS, type TimeCheck } from "./methods.js";

/** A reading of free chlorine as a volunteer reported it. */
export interface ReportedReading {
	readonly householdId: string;
	readonly atMs: number;
	readonly freeChlorineMgPerL: number;
	/** Of the household; none where nobody wrote it down. */
	readonly place: { readonly latitudeDeg: number; readonly longitudeDeg: number } | null;
}

export interface ReportingVolunteer {
	readonly code: string;
	readonly timeZone: string;
	/** In the order of their times. */
	readonly readings: readonly ReportedReading[];
}

/** One reason to look again, with all that it is based on. */
export interface Flag {
	readonly check: FlagCheck;
	readonly method: string;
	/** Chance that honest readings look so odd or odder; none for a limit. */
	readonly p: number | null;
	/** In words; none for a test. */
	readonly limit: string | null;
	readonly figures: Readonly<Record<string, number>>;
	readonly falseAlarms: string;
}

/** "check" asks for a visit and a talk; it is never a finding against anybody. */
export interface FlaggedVolunteer {
	readonly volunteerCode: string;
	readonly advice: "check";
	readonly readings: number;
	readonly flags: readonly Flag[];
}

export interface ReadingFlags {
	readonly looked: number;
	/** Volunteers with fewer than 20 readings, or without 60 readings of peers: their values aren't tested. */
	readonly tooFewReadings: number;
	readonly flagged: readonly FlaggedVolunteer[];
}

/** Kits are read in steps of 0.1 mg/L or in coarser ones. */
const STEP_MG_PER_L = 0.1;
/** Households' places are written down once, by whoever was there: so exact, m. Own choice. */
const PLACE_ACCURACY_M = 50;

/**
 * Readings that deserve a second look, by volunteer.
 * @param lowMgPerL readings under it are low; @param fastestKmPerH 3 to 120, the fastest way between households
 * @returns who is to be checked, in the given order, and why
 */
export function readingFlags(
	volunteers: readonly ReportingVolunteer[],
	{ lowMgPerL, fastestKmPerH }: { readonly lowMgPerL: number; readonly fastestKmPerH: number },
): ReadingFlags {
	const advice = readingAdvice(
		volunteers.map(({ code, readings }) => ({
			volunteerId: code,
			steps: readings.map(({ freeChlorineMgPerL }) => Math.round(freeChlorineMgPerL / STEP_MG_PER_L)),
		})),
		{ lowBelowSteps: Math.max(1, Math.round(lowMgPerL / STEP_MG_PER_L)), falseShare: FALSE_SHARE },
	);
	const flagged = volunteers.flatMap((volunteer, i): FlaggedVolunteer[] => {
		const found = advice[i];
		const tested: Flag[] =
			found?.kind !== "check"
				? []
				: found.odd.map(({ check, p }) => ({
						...{ check, ...METHODS[check], p, limit: null },
						figures: {
							matchShare: rounded(found.figures.matchShare, 3),
							peerMatchShare: rounded(found.figures.peerMatchShare, 3),
							longestRun: found.figures.longestRun,
						},
					}));
		const flags = [...tested, ...timeFlags(volunteer, fastestKmPerH)];
		if (flags.length === 0) return [];
		return [{ volunteerCode: volunteer.code, advice: "check", readings: volunteer.readings.length, flags }];
	});
	return { looked: volunteers.length, tooFewReadings: advice.filter(({ kind }) => kind === "tooFewReadings").length, flagged };
}

function timeFlags({ readings, timeZone }: ReportingVolunteer, fastestKmPerH: number): Flag[] {
	const visits = visitsOf(readings);
	const odd = oddIntervals(visits, { fastestKmPerH });
	const speeds = odd.flatMap(({ speedKmPerH }) => (speedKmPerH !== null && speedKmPerH > fastestKmPerH ? [speedKmPerH] : []));
	const soon = odd.filter(({ reason }) => reason !== "tooFast").length;
	const night = readings.filter(({ atMs }) => isNight(atMs, timeZone)).length;
	const ways = Math.max(0, visits.length - 1);
	return [
		...limited("walkedTooFast", speeds.length, ways, `${fastestKmPerH} km/h`, {
			fastestKmPerH: rounded(Math.max(0, ...speeds), 1),
		}),
		...limited("allAtOnce", soon, ways, "3 min", {}),
		...limited("atNight", night, readings.length, `${NIGHT.fromHour} to ${NIGHT.untilHour} o'clock`, {}),
	];
}

function limited(check: TimeCheck, odd: number, of: number, limit: string, more: Readonly<Record<string, number>>): Flag[] {
	const { fewest, leastShare } = TIME_LIMITS[check];
	if (odd < fewest || odd < leastShare * of) return [];
	const least = `at least ${fewest} and ${leastShare * 100} % of them`;
	return [{ check, ...METHODS[check], p: null, limit: `${limit}, ${least}`, figures: { odd, of, ...more } }];
}

/** Readings of several containers in a household are one visit: the first of them. */
function visitsOf(readings: readonly ReportedReading[]): TimedVisit[] {
	return readings.flatMap(({ householdId, atMs, place }, i) => {
		if (i > 0 && readings[i - 1]?.householdId === householdId) return [];
		return [{ visitedAtMs: atMs, ...(place && { position: { ...place, accuracyM: PLACE_ACCURACY_M } }) }];
	});
}

function isNight(atMs: number, timeZone: string): boolean {
	const hour = Number(localTimeOf(atMs, timeZone).slice(11, 13));
	return hour >= NIGHT.fromHour || hour < NIGHT.untilHour;
}
