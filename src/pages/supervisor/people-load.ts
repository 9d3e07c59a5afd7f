import { mostHouseholdsOf } from "../../assignment/scope.js";
import type { Policy } from "../../programme/policy.js";
import type { Store } from "../../store/store.js";
import type { Visit } from "../page.js";
import { inPartOf } from "../part.js";

/** A volunteer, and what she carries. */
export interface PersonLoad {
	readonly id: string;
	readonly code: string;
	readonly name: string;
	readonly isActive: boolean;
	/** Why she is away. */
	readonly reason: "ill" | "on leave" | "left" | null;
	readonly households: number;
	/** As she has said, else by her working days. */
	readonly mostHouseholds: number;
	readonly openTasks: number;
	/** Reminded of at least once. */
	readonly lateTasks: number;
	/** Where her rounds begin. */
	readonly latitudeDeg: number;
	readonly longitudeDeg: number;
}

interface Row extends Omit<PersonLoad, "isActive" | "mostHouseholds" | "households" | "openTasks" | "lateTasks"> {
	readonly active: boolean | number;
	readonly workingDays: string;
	readonly statedMost: number | null;
}

/** More than this many aren't looked at one by one: a supervisor of so many has supervisors below her. */
const MOST_PEOPLE = 1000;

/** @returns the volunteers of whoever asks, those first who carry most for what they can */
export async function peopleLoads(store: Store, visit: Visit, policy: Policy): Promise<PersonLoad[]> {
	const people = inPartOf(visit, "person", "p");
	const rows = await store.query<Row>(
		`SELECT p.id, p.code, p.name, p.active, p.working_days, c.most_households AS stated_most, x.reason,
			COALESCE(c.latitude_deg, a.latitude_deg) AS latitude_deg, COALESCE(c.longitude_deg, a.longitude_deg) AS longitude_deg
		 FROM person p JOIN area a ON a.id = p.area_id LEFT JOIN volunteer_capacity c ON c.person_id = p.id
		 LEFT JOIN absence x ON x.person_id = p.id AND x.returned_at_ms IS NULL
		 WHERE p.role = 'volunteer' AND ${people.texts.join(" AND ")} ORDER BY p.code LIMIT ${MOST_PEOPLE}`,
		people.parameters,
	);
	const inPart = `SELECT p.id FROM person p WHERE p.role = 'volunteer' AND ${people.texts.join(" AND ")}`;
	const households = await store.query<{ id: string; number: number }>(
		`SELECT volunteer_id AS id, COUNT(*) AS number FROM household WHERE volunteer_id IN (${inPart}) GROUP BY volunteer_id`,
		people.parameters,
	);
	const tasks = await store.query<{ id: string; number: number; late: number }>(
		`SELECT assignee_id AS id, COUNT(*) AS number, SUM(CASE WHEN ladder_step > 0 THEN 1 ELSE 0 END) AS late FROM task
		 WHERE state = 'open' AND assignee_id IN (${inPart}) GROUP BY assignee_id`,
		people.parameters,
	);
	const homes = new Map(households.map(({ id, number }) => [id, Number(number)]));
	const work = new Map(tasks.map(({ id, number, late }) => [id, { open: Number(number), late: Number(late) }]));
	const loads = rows.map(({ active, workingDays, statedMost, ...row }) => ({
		...row,
		isActive: Boolean(active),
		households: homes.get(row.id) ?? 0,
		mostHouseholds: mostHouseholdsOf({ mostHouseholds: statedMost, workingDays }, policy),
		openTasks: work.get(row.id)?.open ?? 0,
		lateTasks: work.get(row.id)?.late ?? 0,
	}));
	return loads.sort((a, b) => heaviness(b) - heaviness(a) || b.lateTasks - a.lateTasks || (a.code < b.code ? -1 : 1));
}

/** Whoever is away and still has households comes first. */
function heaviness({ isActive, households, mostHouseholds }: PersonLoad): number {
	if (households === 0) return isActive ? 0 : -1;
	return isActive && mostHouseholds > 0 ? households / mostHouseholds : Number.MAX_VALUE;
}

export function isOverloaded({ isActive, households, mostHouseholds }: PersonLoad): boolean {
	return isActive ? households > mostHouseholds : households > 0;
}
