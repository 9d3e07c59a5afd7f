import type { Policy } from "../programme/policy.js";
import { chlorateInWaterMgPerL, strengthAtChlorateLimitGPerL } from "../science/chlorate.js";
import { medianOfMean, type StrengthAhead, strengthAhead } from "../science/outlook.js";
import { type SurfaceUse, surfaceSolution, surfaceUses } from "../science/surface-uses.js";
import { DAY_MS, HOUR_MS } from "../time/clock.js";
import type { Forecast } from "./forecast.js";

/** A jar as the end of its use is judged by. */
export interface AgeingJar {
	readonly madeStrengthGPerL: number;
	readonly forecast: Forecast;
	/** Whether any household that its keeper looks after has cloudy water, which takes the double dose. */
	readonly dosesCloudy: boolean;
	/** Until then it is used up on surfaces; none: it hasn't been set aside. */
	readonly setAsideUntilMs: number | null;
}

/** Of a row `b` of the jars. */
export const DOSES_CLOUDY = `EXISTS (SELECT 1 FROM household h WHERE h.volunteer_id = b.keeper_id AND h.turbidity <> 'clear')`;

/** What is to be done with a jar that isn't for drinking water any more, and from when. */
export interface EndOfUse {
	readonly what: "set aside for surfaces" | "pour away";
	readonly because: "weak" | "too old" | "chlorate" | "serves no use" | "not used up";
	readonly dueAtMs: number;
}

/** The weakest solution that any use asks for: bleach under it serves none. Source: the use table's rows, 0.05 %. */
export const LEAST_USE_G_PER_L = Math.min(...Object.values(surfaceUses).map(({ wantGPerL }) => wantGPerL));

const STEP_MS = 6 * HOUR_MS;
const HORIZON_DAYS = 60;

/**
 * When a jar is set aside, and when it is poured away.
 *
 * It is set aside when it is too weak or too old for drinking water, or when the chlorate that its keeper's largest dose would
 * bring passes the limit; it is poured away when it is too weak for every use, or when it should have been used up.
 * @returns none: not in sight. A jar that still waits for a test is judged by that test first, unless chlorate has passed.
 * Source: chlorate 0.7 mg/L: WHO, Guidelines for drinking-water quality (provisional); uses: `surfaceUses`.
 */
export function endOfUse(jar: AgeingJar, nowMs: number, policy: Policy): EndOfUse | undefined {
	const outlook = outlookOf(jar.forecast);
	const spentMs = firstUnder(outlook, LEAST_USE_G_PER_L, nowMs);
	if (jar.setAsideUntilMs !== null) {
		const { setAsideUntilMs: until } = jar;
		return spentMs !== undefined && spentMs < until
			? { what: "pour away", because: "serves no use", dueAtMs: spentMs }
			: { what: "pour away", because: "not used up", dueAtMs: until };
	}
	if (spentMs !== undefined && spentMs <= nowMs) return { what: "pour away", because: "serves no use", dueAtMs: spentMs };
	const { verdict } = jar.forecast;
	if (verdict === "weak" || verdict === "too old") return { what: "set aside for surfaces", because: verdict, dueAtMs: nowMs };
	const limit = strengthAtChlorateLimitGPerL(largestDose(jar, policy), jar.madeStrengthGPerL, policy.stock.chlorateMgPerL);
	// Above the usable limit alone: under it the jar is weak, which its test says first.
	const chlorateMs = limit > policy.usableLimitGPerL ? firstUnder(outlook, limit, nowMs) : undefined;
	return chlorateMs === undefined ? undefined : { what: "set aside for surfaces", because: "chlorate", dueAtMs: chlorateMs };
}

const largestDose = ({ dosesCloudy }: Pick<AgeingJar, "dosesCloudy">, { doseMgPerL }: Policy): number =>
	dosesCloudy ? doseMgPerL.cloudy : doseMgPerL.clear;

/** @returns mg/L of chlorate that the largest dose from a jar would bring now */
export function chlorateOfDose(jar: AgeingJar, nowMs: number, policy: Policy): number {
	return chlorateInWaterMgPerL(largestDose(jar, policy), jar.madeStrengthGPerL, strengthThen(outlookOf(jar.forecast), nowMs));
}

/** A use that weak bleach still serves, and how a bucket of it is made. */
export interface StillServes {
	readonly use: SurfaceUse;
	readonly bleachMl: number;
	readonly waterL: number;
	readonly contactMinutes: number;
}

/** Those that a household has, the strongest first. */
const OFFERED: readonly SurfaceUse[] = ["floorsAndLatrines", "touchedSurfaces", "homeSurfaces"];
const BUCKET_L = 10;

/**
 * @param heldMl what is in the jar, more than 0 mL
 * @returns the strongest use that a jar's bleach still serves, by the low end of what is believed of it, made up to 10 L or to what the jar
 * is enough for, bleach in steps of 10 mL; none serves
 */
export function stillServes(forecast: Forecast, nowMs: number, heldMl = Number.POSITIVE_INFINITY): StillServes | undefined {
	const { meanGPerL, sdGPerL } = strengthAhead(outlookOf(forecast), nowMs);
	const median = strengthThen(outlookOf(forecast), nowMs);
	const strength = {
		lowGPerL: Math.max(0.01, Math.min(median, meanGPerL - 1.645 * sdGPerL)),
		medianGPerL: median,
		highGPerL: Math.max(median, meanGPerL + 1.645 * sdGPerL),
	};
	for (const use of OFFERED) {
		const solution = surfaceSolution({ use, strength, finalVolumeL: BUCKET_L });
		if (solution.kind !== "solution") continue;
		const wantedMl = Math.ceil(solution.bleachMl / 10) * 10;
		const bleachMl = wantedMl <= heldMl ? wantedMl : Math.max(Math.min(heldMl, 10), Math.floor(heldMl / 10) * 10);
		const waterMl = (BUCKET_L * 1000 - wantedMl) * (bleachMl / wantedMl);
		// Water downwards: too little leaves the solution a little stronger, too much would make it too weak.
		return { use, bleachMl, waterL: Math.floor(waterMl / 10) / 100, contactMinutes: solution.contactMinutes };
	}
	return undefined;
}

const strengthThen = (outlook: readonly StrengthAhead[], atMs: number): number =>
	Math.max(0.01, medianOfMean(strengthAhead(outlook, atMs)));

function outlookOf({ outlook, now }: Forecast): readonly StrengthAhead[] {
	return outlook ?? [{ atMs: now.atMs, meanGPerL: now.medianGPerL, sdGPerL: (now.highGPerL - now.lowGPerL) / 3.29 }];
}

/** @returns the first instant, from now on and within 60 days, at which the strength is more likely under a limit than above it */
function firstUnder(outlook: readonly StrengthAhead[], limitGPerL: number, nowMs: number): number | undefined {
	for (let atMs = nowMs; atMs <= nowMs + HORIZON_DAYS * DAY_MS; atMs += STEP_MS)
		if (medianOfMean(strengthAhead(outlook, atMs)) < limitGPerL) return atMs;
	return undefined;
}
