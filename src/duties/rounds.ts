import { Temporal } from "temporal-polyfill";
import { placeOf } from "../assignment/decisions.js";
import { InputError } from "../errors/errors.js";
import { holidaysOf } from "../programme/holidays.js";
import { currentPolicy } from "../programme/policy.js";
import type { Store } from "../store/store.js";
import { instantOfLocal } from "../time/local.js";
import { type RoundPlace, type RoundPlan, roundPlan } from "./round-plan.js";

/** A place with all the work that is open there. */
export interface WorkPlace extends RoundPlace {
	/** The household's or generator's code. */
	readonly code: string;
	readonly kind: "household" | "generator";
	/** False: it isn't known, and the middle of its area is taken. */
	readonly isPlaceKnown: boolean;
	readonly dueAtMs: number;
	readonly tasks: readonly { readonly code: string; readonly kind: string }[];
}

/** A volunteer's day. */
export interface DayRound extends RoundPlan<WorkPlace> {
	readonly timeZone: string;
	readonly startMs: number;
	readonly endMs: number;
	readonly home: RoundPlace;
	/** False: it is one of her days off, or a holiday of her area. */
	readonly isWorkingDay: boolean;
	readonly walkingKmPerH: number;
	readonly detour: number;
	/** Work on jars that she keeps herself: nothing to walk for. */
	readonly atHome: readonly { readonly code: string; readonly kind: string }[];
}

/** Orders what is open for a volunteer into a round. */
export class Rounds {
	constructor(private readonly store: Store) {}

	/**
	 * @param date 'YYYY-MM-DD' in her area's zone
	 * @returns what is open for her and due by the end of that day, in the order of her way
	 * @throws InputError `unknown-subject` (404)
	 */
	async of(personCode: string, date: string): Promise<DayRound> {
		const [person] = await this.store.query<Walker>(
			`SELECT p.id, p.area_id, p.working_days, a.time_zone, c.works_from, c.works_until FROM person p JOIN area a ON a.id = p.area_id
			 LEFT JOIN volunteer_capacity c ON c.person_id = p.id WHERE p.code = $1`,
			[personCode],
		);
		if (!person) throw new InputError("unknown-subject", "There is no person with this code.", { status: 404 });
		const { assignment } = await currentPolicy(this.store);
		const { timeZone } = person;
		const startMs = instantOfLocal(date, person.worksFrom ?? assignment.worksFrom, timeZone);
		const endMs = instantOfLocal(date, person.worksUntil ?? assignment.worksUntil, timeZone);
		const nextDay = Temporal.PlainDate.from(date).add({ days: 1 }).toString();
		const work = await this.openWork(person.id, instantOfLocal(nextDay, "00:00", timeZone));
		const home = await placeOf(this.store, person.id);
		const { walkingKmPerH, detour, visitMinutes } = assignment;
		const terms = { startMs, endMs, visitMinutes, straightKmPerH: walkingKmPerH / detour };
		return {
			...roundPlan(home, placesOf(work), terms),
			timeZone,
			startMs,
			endMs,
			home,
			isWorkingDay:
				(JSON.parse(person.workingDays) as number[]).includes(Temporal.PlainDate.from(date).dayOfWeek) &&
				!(await holidaysOf(this.store, [person.areaId])).get(person.areaId)?.includes(date),
			walkingKmPerH,
			detour,
			atHome: work.filter(({ placeKind }) => placeKind === null).map(({ code, kind }) => ({ code, kind })),
		};
	}

	/** A household's, or a container's or jar's that stands in one; or a generator's; all else is done where she is. */
	private openWork(personId: string, beforeMs: number): Promise<OpenWork[]> {
		return this.store.query<OpenWork>(
			`SELECT t.code, t.kind, t.due_at_ms, CASE WHEN h.id IS NOT NULL THEN 'household' WHEN g.id IS NOT NULL THEN 'generator' END AS place_kind,
			        COALESCE(h.code, g.code) AS place_code, COALESCE(h.latitude_deg, g.latitude_deg) AS known_deg,
			        COALESCE(h.latitude_deg, g.latitude_deg, a.latitude_deg) AS latitude_deg,
			        COALESCE(h.longitude_deg, g.longitude_deg, a.longitude_deg) AS longitude_deg
			 FROM task t LEFT JOIN container c ON c.id = t.subject_id LEFT JOIN batch b ON b.id = t.subject_id
			 LEFT JOIN household h ON h.id = COALESCE(c.household_id, b.household_id, t.subject_id)
			 LEFT JOIN generator g ON g.id = t.subject_id LEFT JOIN area a ON a.id = COALESCE(h.area_id, g.area_id)
			 WHERE t.assignee_id = $1 AND t.state = 'open' AND t.due_at_ms < $2 ORDER BY t.due_at_ms, t.id`,
			[personId, beforeMs],
		);
	}
}

interface Walker {
	readonly id: string;
	readonly areaId: string;
	readonly workingDays: string;
	readonly timeZone: string;
	readonly worksFrom: string | null;
	readonly worksUntil: string | null;
}

interface OpenWork {
	readonly code: string;
	readonly kind: string;
	readonly dueAtMs: number;
	readonly placeKind: WorkPlace["kind"] | null;
	readonly placeCode: string | null;
	readonly knownDeg: number | null;
	readonly latitudeDeg: number;
	readonly longitudeDeg: number;
}

function placesOf(work: readonly OpenWork[]): WorkPlace[] {
	const places = new Map<string, WorkPlace>();
	for (const { code, kind, dueAtMs, placeKind, placeCode, knownDeg, latitudeDeg, longitudeDeg } of work) {
		if (placeKind === null || placeCode === null) continue;
		const key = `${placeKind} ${placeCode}`;
		const known = places.get(key);
		const place = known ?? {
			code: placeCode,
			kind: placeKind,
			isPlaceKnown: knownDeg !== null,
			latitudeDeg,
			longitudeDeg,
			dueAtMs,
			tasks: [],
		};
		places.set(key, { ...place, tasks: [...place.tasks, { code, kind }] });
	}
	return [...places.values()];
}
