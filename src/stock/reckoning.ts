import type { GeneratorAvailability } from "../generators/availability.js";
import type { Policy } from "../programme/policy.js";
import type { StrengthAhead } from "../science/outlook.js";
import { placeholders, valuesOf } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { DAY_MS } from "../time/clock.js";
import { type DailyNeed, dailyNeed } from "../water/need.js";
import { freshOutlook, type HeldJar, heldJars } from "./holdings.js";
import { UL_PER_ML } from "./moves.js";
import type { Calendars } from "./places.js";
import { pointsOfAreas } from "./points.js";
import { type DayUse, type Restock, restockOf } from "./restock.js";

/** A volunteer's stock as it was reckoned. */
export interface Reckoned {
	readonly volunteerId: string;
	readonly areaId: string;
	readonly timeZone: string;
	readonly jars: readonly HeldJar[];
	readonly restock: Restock;
	readonly useNow: DayUse;
	/** Where she collects; none can be reached. */
	readonly point: GeneratorAvailability | null;
}

interface Volunteer {
	readonly id: string;
	readonly areaId: string;
	readonly timeZone: string;
	readonly latitudeDeg: number;
	readonly altitudeM: number;
	readonly climate: string;
}

/** Months ahead whose season may be another. */
const MONTHS_AHEAD = 2;

/**
 * Reckons the stocks of volunteers anew, in a few statements for all of them.
 * @param volunteerIds up to 250; who isn't on file isn't among the answers
 */
export async function reckonStocks(
	from: Pick<Transaction, "query">,
	calendars: Calendars,
	volunteerIds: readonly string[],
	policy: Policy,
	nowMs: number,
): Promise<ReadonlyMap<string, Reckoned>> {
	const ids = [...new Set(volunteerIds)];
	if (ids.length === 0) return new Map();
	const people = await from.query<Volunteer & object>(
		`SELECT p.id, p.area_id, a.time_zone, a.latitude_deg, a.altitude_m, a.climate FROM person p JOIN area a ON a.id = p.area_id
		 WHERE p.active AND p.id IN (${placeholders(ids.length)})`,
		ids,
	);
	const needs = await needsByMonth(from, ids, policy, nowMs);
	const jars = new Map<string, HeldJar[]>();
	for (const jar of await heldJars(from, "keeper", ids))
		jars.set(jar.keeperId as string, [...(jars.get(jar.keeperId as string) ?? []), jar]);
	const told = await lastTold(from, ids, nowMs);
	const points = await pointsOfAreas(
		from,
		people.map(({ areaId }) => areaId),
	);
	const freshByArea = new Map<string, readonly StrengthAhead[]>();
	return new Map(
		people.map((person) => {
			const fresh = freshByArea.get(person.areaId) ?? freshOutlook(person, calendars, policy, nowMs);
			freshByArea.set(person.areaId, fresh);
			const useAt = useOf(needs, person.id);
			const own = jars.get(person.id) ?? [];
			const { atMs: toldAtMs = nowMs, recordedMl = 0 } = told.get(person.id) ?? {};
			const restock = restockOf({ jars: own, useAt, fresh, nowMs, toldAtMs, recordedMl, policy });
			const { id: volunteerId, areaId, timeZone } = person;
			return [
				volunteerId,
				{ volunteerId, areaId, timeZone, jars: own, restock, useNow: useAt(nowMs), point: points.get(areaId) ?? null },
			];
		}),
	);
}

/** Keeps when each volunteer will want bleach and how much: what plans of production are made from. */
export async function keepWants(tx: Transaction, reckoned: readonly Reckoned[], nowMs: number): Promise<void> {
	if (reckoned.length === 0) return;
	const { text, parameters } = valuesOf(
		reckoned.map(({ volunteerId, point, restock, useNow }) => [
			volunteerId,
			point?.generatorId ?? null,
			restock.dueAtMs,
			restock.collectMl,
			useNow.gPerDay,
			restock.outAtMs,
			nowMs,
		]),
	);
	await tx.affected(
		`INSERT INTO bleach_want (volunteer_id, generator_id, want_at_ms, volume_ml, chlorine_g_per_day, out_at_ms, reckoned_at_ms) VALUES ${text}
		 ON CONFLICT (volunteer_id) DO UPDATE SET generator_id = excluded.generator_id, want_at_ms = excluded.want_at_ms, volume_ml = excluded.volume_ml,
			chlorine_g_per_day = excluded.chlorine_g_per_day, out_at_ms = excluded.out_at_ms, reckoned_at_ms = excluded.reckoned_at_ms`,
		parameters,
	);
}

/** As far back as it matters when a stock was last told of. */
const TOLD_DAYS = 30;

interface Told {
	readonly atMs: number;
	/** What was written down as used since then, mL. */
	readonly recordedMl: number;
}

/**
 * When each volunteer's stock was last told of: the last time a jar was measured, or the filling of the first that she holds. A use that
 * somebody wrote down tells of itself alone, and a jar that was filled later nothing of those before it.
 */
async function lastTold(
	from: Pick<Transaction, "query">,
	ids: readonly string[],
	nowMs: number,
): Promise<ReadonlyMap<string, Told>> {
	const marks = placeholders(ids.length, 2);
	const sinceMs = nowMs - TOLD_DAYS * DAY_MS;
	const rows = await from.query<{ keeperId: string; filledAtMs: number; measuredAtMs: number | null }>(
		`SELECT b.keeper_id, MIN(COALESCE(b.drawn_at_ms, b.made_at_ms)) AS filled_at_ms, MAX(m.measured_at_ms) AS measured_at_ms FROM batch b
		 LEFT JOIN (SELECT x.keeper_id, MAX(s.at_ms) AS measured_at_ms FROM stock_move s JOIN batch x ON x.id = s.jar_id
			WHERE s.at_ms >= $1 AND s.kind = 'corrected' AND x.keeper_id IN (${marks}) GROUP BY x.keeper_id) AS m ON m.keeper_id = b.keeper_id
		 WHERE b.keeper_id IN (${marks}) AND b.state IN ('in use', 'weak') AND COALESCE(b.held_ul, 1) > 0 GROUP BY b.keeper_id`,
		[sinceMs, ...ids],
	);
	const uses = await from.query<{ keeperId: string; atMs: number; volumeUl: number }>(
		`SELECT b.keeper_id, s.at_ms, s.volume_ul FROM stock_move s JOIN batch b ON b.id = s.jar_id
		 WHERE s.at_ms >= $1 AND s.kind IN ('used', 'spilt') AND b.keeper_id IN (${marks})`,
		[sinceMs, ...ids],
	);
	return new Map(
		rows.map(({ keeperId, filledAtMs, measuredAtMs }): [string, Told] => {
			const atMs = Math.max(sinceMs, filledAtMs, measuredAtMs ?? 0);
			const since = uses.filter((use) => use.keeperId === keeperId && use.atMs >= atMs);
			return [keeperId, { atMs, recordedMl: since.reduce((sum, { volumeUl }) => sum - volumeUl, 0) / UL_PER_ML }];
		}),
	);
}

type Needs = ReadonlyMap<number, ReadonlyMap<string, DailyNeed>>;

async function needsByMonth(
	from: Pick<Transaction, "query">,
	ids: readonly string[],
	policy: Policy,
	nowMs: number,
): Promise<Needs> {
	const needs = new Map<number, ReadonlyMap<string, DailyNeed>>();
	for (let ahead = 0; ahead <= MONTHS_AHEAD; ahead++) {
		const atMs = nowMs + ahead * 30.5 * DAY_MS;
		const month = new Date(atMs).getUTCMonth();
		if (!needs.has(month)) needs.set(month, await dailyNeed(from, ids, atMs, policy));
	}
	return needs;
}

/** Use by the season of each month; a month that nobody looked up is like the last that was. */
function useOf(needs: Needs, volunteerId: string): (atMs: number) => DayUse {
	const byMonth = new Map(
		[...needs].map(([month, of]) => [
			month,
			{ gPerDay: of.get(volunteerId)?.chlorineGramsPerDay ?? 0, sdGPerDay: of.get(volunteerId)?.sd ?? 0 },
		]),
	);
	const last = [...byMonth.values()].at(-1) as DayUse;
	return (atMs) => byMonth.get(new Date(atMs).getUTCMonth()) ?? last;
}
