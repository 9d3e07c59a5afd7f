import type { Policy } from "../programme/policy.js";
import { visitDays } from "../programme/water-rules.js";
import { DEMAND_HOURS } from "../science/residual.js";
import { hoursUntilChanceUnder } from "../science/residual-belief.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { DAY_MS, HOUR_MS } from "../time/clock.js";
import type { KnownContainer } from "./containers.js";
import { waterNow } from "./containers.js";
import { householdBeliefs } from "./household-belief.js";
import { visitAfterMs } from "./visit-days.js";

type Reader = Pick<Transaction, "query">;

/** A household that was seen so short a time ago isn't visited again only because its turn comes. Own choice. */
const JUST_SEEN_DAYS = 2;

/** @returns how long ago that is at the most, for a household that is seen once in so many days */
export const justSeenMs = (intervalDays: number): number => Math.min(JUST_SEEN_DAYS, intervalDays / 4) * DAY_MS;

/** When the day's visits fall due where nobody says when the volunteer's day begins. */
const MORNING = "07:00";

/** When stored water is looked at next, where no check is being waited for. */
export interface PlannedCheck {
	/** The household's turn; none for a container that isn't the one in which it is looked at. */
	readonly turnAtMs: number | null;
	/** When the residual has probably fallen under the least at the point of use, if that is before the next refill. */
	readonly lowAtMs: number | null;
	/** The earlier of the two. */
	readonly dueAtMs: number | null;
}

/** @returns when each container's stored water is next looked at */
export async function plannedChecks(
	from: Reader,
	containers: readonly KnownContainer[],
	policy: Policy,
	nowMs: number,
): Promise<ReadonlyMap<string, PlannedCheck>> {
	if (containers.length === 0) return new Map();
	const turns = await turnsOf(from, containers, policy, nowMs);
	const lows = await lowInstants(from, containers, policy, nowMs);
	return new Map(
		containers.map(({ id }) => {
			const [turnAtMs, lowAtMs] = [turns.get(id) ?? null, lows.get(id) ?? null];
			const dueAtMs = Math.min(turnAtMs ?? Number.POSITIVE_INFINITY, lowAtMs ?? Number.POSITIVE_INFINITY);
			return [id, { turnAtMs, lowAtMs, dueAtMs: Number.isFinite(dueAtMs) ? dueAtMs : null }];
		}),
	);
}

/** What is known of a household by its readings that counted. */
export interface Seen {
	readonly lastAtMs: number;
	readonly readings: number;
}

/** @returns of each household that was ever seen, when it was so last, and how often */
export async function householdsSeen(from: Reader, householdIds: readonly string[]): Promise<ReadonlyMap<string, Seen>> {
	const once = [...new Set(householdIds)];
	if (once.length === 0) return new Map();
	const rows = await from.query<{ householdId: string; lastAtMs: number; readings: number }>(
		`SELECT c.household_id, MAX(r.checked_at_ms) AS last_at_ms, COUNT(*) AS readings FROM residual_check r JOIN container c ON c.id = r.container_id
		 WHERE (r.flags IS NULL OR r.flags NOT LIKE '%too early%') AND c.household_id IN (${placeholders(once.length)}) GROUP BY c.household_id`,
		once,
	);
	return new Map(
		rows.map(({ householdId, lastAtMs, readings }) => [householdId, { lastAtMs: Number(lastAtMs), readings: Number(readings) }]),
	);
}

async function turnsOf(
	from: Reader,
	containers: readonly KnownContainer[],
	{ water }: Policy,
	nowMs: number,
): Promise<Map<string, number>> {
	const seen = await householdsSeen(
		from,
		containers.map(({ householdId }) => householdId),
	);
	const looked = await lookedAt(from, containers);
	const places = await placesOf(from, containers);
	return new Map(
		containers.flatMap(({ id, householdId, timeZone }): [string, number][] => {
			const place = places.get(householdId);
			if (looked.get(householdId) !== id || !place) return [];
			const { lastAtMs, readings } = seen.get(householdId) ?? { lastAtMs: undefined, readings: 0 };
			const intervalDays = visitDays(water, readings);
			const rhythm = { intervalDays, timeZone, ...place };
			if (lastAtMs === undefined || lastAtMs + intervalDays * DAY_MS <= nowMs) return [[id, visitAfterMs(rhythm, nowMs)]];
			// Its turn, unless it has just been seen; never later than the interval after it was.
			const turnMs = visitAfterMs(rhythm, Math.max(nowMs, lastAtMs + justSeenMs(intervalDays)));
			return [[id, Math.min(turnMs, lastAtMs + intervalDays * DAY_MS)]];
		}),
	);
}

/** The container in which each household's water is looked at: the largest, the first of several by code. */
async function lookedAt(from: Reader, containers: readonly KnownContainer[]): Promise<Map<string, string>> {
	const households = [...new Set(containers.map(({ householdId }) => householdId))];
	const rows = await from.query<{ id: string; householdId: string }>(
		`SELECT id, household_id FROM container WHERE household_id IN (${placeholders(households.length)}) ORDER BY volume_l DESC, code`,
		households,
	);
	const first = new Map<string, string>();
	for (const { id, householdId } of rows) if (!first.has(householdId)) first.set(householdId, id);
	return first;
}

export interface Place {
	readonly workingDays: readonly number[];
	readonly from: string;
	readonly place: number;
	readonly of: number;
}

/** Each household's place among those of its volunteer, by id; households without one are shared out by area. */
export async function placesOf(from: Reader, containers: readonly KnownContainer[]): Promise<Map<string, Place>> {
	const volunteers = [...new Set(containers.flatMap(({ volunteerId }) => volunteerId ?? []))];
	const areas = [...new Set(containers.flatMap(({ volunteerId, areaId }) => (volunteerId ? [] : [areaId])))];
	const rows = await from.query<{ id: string; round: string; workingDays: string | null; quietUntil: string | null }>(
		`SELECT h.id, COALESCE(h.volunteer_id, h.area_id) AS round, p.working_days, p.quiet_until FROM household h LEFT JOIN person p ON p.id = h.volunteer_id
		 WHERE h.volunteer_id IN (${placeholders(volunteers.length) || "NULL"})
		    OR (h.volunteer_id IS NULL AND h.area_id IN (${placeholders(areas.length, volunteers.length + 1) || "NULL"})) ORDER BY h.id`,
		[...volunteers, ...areas],
	);
	const counts = new Map<string, number>();
	const placed = rows.map((row) => {
		const place = counts.get(row.round) ?? 0;
		counts.set(row.round, place + 1);
		return { ...row, place };
	});
	return new Map(
		placed.map(({ id, round, workingDays, quietUntil, place }) => [
			id,
			{
				workingDays: workingDays === null ? [] : (JSON.parse(workingDays) as number[]),
				from: quietUntil ?? MORNING,
				place,
				of: counts.get(round) as number,
			},
		]),
	);
}

/** When the open fills are probably low, for those that are so before their next refill and weren't read a short time ago. */
async function lowInstants(
	from: Reader,
	containers: readonly KnownContainer[],
	policy: Policy,
	nowMs: number,
): Promise<Map<string, number>> {
	const doses = await from.query<{ containerId: string; dosedAtMs: number; doseMgPerL: number; readAtMs: number | null }>(
		`SELECT d.container_id, d.dosed_at_ms, d.dose_mg_per_l, (SELECT MAX(r.checked_at_ms) FROM residual_check r
			WHERE r.container_id = d.container_id AND (r.flags IS NULL OR r.flags NOT LIKE '%too early%')) AS read_at_ms
		 FROM dose d WHERE d.state = 'open' AND d.container_id IN (${placeholders(containers.length)})`,
		containers.map(({ id }) => id),
	);
	const byId = new Map(containers.map((container) => [container.id, container]));
	const dosed = doses.flatMap(({ containerId }) => byId.get(containerId) ?? []);
	const beliefs = await householdBeliefs(from, dosed, nowMs);
	const { refillHours, leastAtUseMgPerL, shortestCheckDays } = policy.water;
	return new Map(
		doses.flatMap(({ containerId, dosedAtMs, doseMgPerL, readAtMs }): [string, number][] => {
			const container = byId.get(containerId) as KnownContainer;
			const belief = beliefs.get(containerId);
			if (!belief) return [];
			const { temperatureC } = waterNow(container, dosedAtMs);
			const fill = { doseMgPerL: Math.min(100, doseMgPerL), temperatureC, limitMgPerL: leastAtUseMgPerL };
			// Within the demand's first half hour nothing can be told of what is left.
			const hours = Math.max(DEMAND_HOURS, hoursUntilChanceUnder(belief, fill, policy.toleratedChance));
			const lowAtMs = dosedAtMs + hours * HOUR_MS;
			const atMs = Math.max(lowAtMs, readAtMs === null ? 0 : Number(readAtMs) + shortestCheckDays * DAY_MS);
			const refillAtMs = dosedAtMs + (container.habits.refillEveryHours ?? refillHours) * HOUR_MS;
			return atMs < refillAtMs ? [[containerId, Math.round(atMs)]] : [];
		}),
	);
}
