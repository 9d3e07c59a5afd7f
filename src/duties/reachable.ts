import { mayBeWrittenTo } from "../programme/consent.js";
import { holidaysOf } from "../programme/holidays.js";
import { among } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { type ContactTimes, dayAfter, instantOfLocal, localDateOf, nextContactInstant } from "../time/local.js";

/** A person, and when she may be written to. */
export interface Reachable extends ContactTimes {
	readonly id: string;
	readonly name: string;
	readonly supervisorId: string | null;
	/** BCP 47. */
	readonly language: string;
	/** Names of notifiers in order of preference. */
	readonly channels: readonly string[];
}

/**
 * @param away true: those who have left or are away too, for what concerns themselves
 * @returns people by id, in the order in which they were asked for; who has left or doesn't want to be written to isn't among them
 */
export async function reachablePeople(
	from: Pick<Transaction, "query" | "kind">,
	ids: readonly string[],
	away = false,
): Promise<ReadonlyMap<string, Reachable>> {
	const distinct = [...new Set(ids)];
	if (distinct.length === 0) return new Map();
	const rows = await from.query<
		Omit<Reachable, "workingDays" | "channels" | "holidays"> & { workingDays: string; channels: string; areaId: string }
	>(
		`SELECT p.id, p.name, p.area_id, p.supervisor_id, p.language, p.channels, p.working_days, p.quiet_from, p.quiet_until, a.time_zone
		 FROM person p JOIN area a ON a.id = p.area_id WHERE ${away ? "" : "p.active AND "}${mayBeWrittenTo("p", from.kind)} AND p.id ${among(from.kind, "$1")}`,
		[distinct],
	);
	const holidays = await holidaysOf(
		from,
		rows.map(({ areaId }) => areaId),
	);
	const people = new Map(
		rows.map(({ areaId, ...row }): [string, Reachable] => [
			row.id,
			{
				...row,
				workingDays: JSON.parse(row.workingDays) as number[],
				channels: JSON.parse(row.channels) as string[],
				holidays: holidays.get(areaId) ?? [],
			},
		]),
	);
	// Whoever is asked for first comes first, however the database keeps them.
	return new Map(distinct.flatMap((id): [string, Reachable][] => (people.has(id) ? [[id, people.get(id) as Reachable]] : [])));
}

/** @returns the first instant from now on at which the person may be written to */
export function notBeforeMs(person: Reachable, nowMs: number): number {
	const known = lastAsked.get(person);
	if (known?.nowMs === nowMs) return known.notBeforeMs;
	const notBefore = forSameHours(person, nowMs);
	lastAsked.set(person, { nowMs, notBeforeMs: notBefore });
	return notBefore;
}

function forSameHours({ timeZone, workingDays, quietFrom, quietUntil, holidays }: Reachable, nowMs: number): number {
	if (hours.nowMs !== nowMs) hours = { nowMs, answers: new Map() };
	const key = `${timeZone} ${workingDays} ${quietFrom} ${quietUntil} ${holidays}`;
	const answer = hours.answers.get(key) ?? nextContactInstant(nowMs, { timeZone, workingDays, quietFrom, quietUntil, holidays });
	hours.answers.set(key, answer);
	return answer;
}

/** @returns the next instant at which it is that time of day on a day on which the person may be written to, or her first minute after it */
export function onceADayMs(person: Reachable, wallTime: string, nowMs: number): number {
	const today = localDateOf(nowMs, person.timeZone);
	const atMs = instantOfLocal(today, wallTime, person.timeZone);
	return nextContactInstant(atMs >= nowMs ? atMs : instantOfLocal(dayAfter(today), wallTime, person.timeZone), person);
}

/** A volunteer has many jars, many volunteers keep the same hours, and calendars are slow: one look serves all of them at one moment. */
const lastAsked = new WeakMap<Reachable, { readonly nowMs: number; readonly notBeforeMs: number }>();
let hours: { readonly nowMs: number; readonly answers: Map<string, number> } = { nowMs: Number.NaN, answers: new Map() };
