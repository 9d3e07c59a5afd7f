import type { Policy } from "../programme/policy.js";
import type { MonthlyClimate } from "../science/climate.js";
import { exposureBetween } from "../science/exposure.js";
import type { StrengthAhead } from "../science/outlook.js";
import { solutionFromRun } from "../science/solution.js";
import { strengthAfterGPerL } from "../science/strength-curve.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { DAY_MS } from "../time/clock.js";
import type { Forecast } from "./forecast.js";
import type { Calendars } from "./places.js";
import type { StockJar } from "./restock.js";

/** A jar that holds something, in somebody's stock. */
export interface HeldJar extends StockJar {
	readonly id: string;
	readonly code: string;
	readonly areaId: string;
	readonly keeperId: string | null;
	readonly householdId: string | null;
	readonly generatorId: string | null;
}

/** Whose jars are looked for; ids. */
export type Whose = "keeper" | "household" | "point" | "area";

const WHERE: Readonly<Record<Whose, string>> = {
	keeper: "b.keeper_id IN",
	household: "b.household_id IN",
	point: "b.keeper_id IS NULL AND b.household_id IS NULL AND b.generator_id IN",
	area: "b.area_id IN",
};

interface Row extends Omit<HeldJar, "outlook" | "making" | "isDoubted"> {
	readonly forecast: string | null;
	readonly madeStrengthGPerL: number;
	readonly madeStrengthLnSd: number;
}

/** @returns the jars that hold something, the oldest making first, in one statement */
export async function heldJars(from: Pick<Transaction, "query">, whose: Whose, ids: readonly string[]): Promise<HeldJar[]> {
	const distinct = [...new Set(ids)];
	if (distinct.length === 0) return [];
	const rows = await from.query<Row>(
		`SELECT b.id, b.code, b.area_id, b.keeper_id, b.household_id, b.generator_id, b.made_at_ms, b.made_strength_g_per_l, b.made_strength_ln_sd, b.forecast,
			COALESCE(b.held_ul / 1000.0, b.volume_l * 1000) AS held_ml
		 FROM batch b WHERE ${WHERE[whose]} (${placeholders(distinct.length)}) AND b.state IN ('in use', 'weak') ORDER BY b.made_at_ms, b.code`,
		distinct,
	);
	return rows.map(heldJar);
}

function heldJar({ forecast, madeStrengthGPerL, madeStrengthLnSd, ...row }: Row): HeldJar {
	const believed = forecast === null ? null : (JSON.parse(forecast) as Forecast);
	return {
		...row,
		heldMl: Number(row.heldMl),
		making: `${row.generatorId ?? row.areaId}|${row.madeAtMs}`,
		outlook: outlookOf(believed, row.madeAtMs, madeStrengthGPerL, madeStrengthLnSd),
		isDoubted: believed !== null && believed.contradiction != null,
	};
}

/** A jar that hasn't been forecast yet is as strong as it was made; the sweep will know better soon. */
function outlookOf(forecast: Forecast | null, madeAtMs: number, madeGPerL: number, madeLnSd: number): readonly StrengthAhead[] {
	if (!forecast) return [{ atMs: madeAtMs, meanGPerL: madeGPerL, sdGPerL: madeGPerL * madeLnSd }];
	if (forecast.outlook) return forecast.outlook;
	const points = [forecast.now, ...(forecast.atRetest && forecast.atRetest.atMs > forecast.now.atMs ? [forecast.atRetest] : [])];
	// 90 % of a normal lies within 3.29 standard deviations.
	return points.map(({ atMs, medianGPerL, lowGPerL, highGPerL }) => ({
		atMs,
		meanGPerL: medianGPerL,
		sdGPerL: (highGPerL - lowGPerL) / 3.29,
	}));
}

/** Where fresh bleach would stand: indoors in an opaque jar, in an area. */
export interface FreshPlace {
	readonly areaId: string;
	readonly latitudeDeg: number;
	readonly altitudeM: number;
	readonly climate: string;
}

const FRESH_DAYS = [0, 2, 5, 10, 20, 40, 60];
/** Salt of brine that bleach is usually made from, g/L. Source: makers' pages, 25 to 30 g/L. */
const USUAL_SALT_G_PER_L = 30;

/** @returns what becomes of bleach of the programme's strength that is collected at an instant and kept as it should be */
export function freshOutlook(place: FreshPlace, calendars: Calendars, policy: Policy, nowMs: number): StrengthAhead[] {
	const { targetStrengthGPerL, madeStrengthLnSd } = policy.generators;
	const { notes: _, ...solution } = solutionFromRun({ strengthGPerL: targetStrengthGPerL, saltGPerL: USUAL_SALT_G_PER_L });
	const calendar = calendars.of({
		...place,
		climate: JSON.parse(place.climate) as MonthlyClimate[],
		wall: "opaque",
		exposure: "indoors",
		volumeL: 5,
		litAreaM2: 0,
		madeStrengthGPerL: targetStrengthGPerL,
	});
	return FRESH_DAYS.map((days) => {
		const atMs = nowMs + days * DAY_MS;
		const { equivalentDaysAt25C, sunLossGPerL } = exposureBetween(calendar, nowMs, atMs);
		const meanGPerL = strengthAfterGPerL(targetStrengthGPerL, 1, solution, equivalentDaysAt25C, sunLossGPerL);
		return { atMs, meanGPerL, sdGPerL: meanGPerL * madeStrengthLnSd.currentRead };
	});
}
