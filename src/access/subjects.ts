/** Writes a value's place into a statement: `$3`. */
export type Place = (value: unknown) => string;

/** A condition on a column that holds an area's id: the area is one of the caller's, or lies below one. */
export type WithinAreas = (column: string) => string;

/** A kind of thing that belongs to a part of the programme: how a name leads to it, whose part it is in. */
interface Subject {
	readonly table: string;
	/** The column by which requests name it. */
	readonly named: "code" | "id";
	/** Which row a name means, where several have it. */
	readonly order?: string;
	/** @param x the table's alias @returns a condition in SQL */
	inAreas(x: string, within: WithinAreas): string;
	/** @param person place of the volunteer's id @returns the condition that it is hers */
	hers(x: string, person: string): string;
}

const NEVER = "1 = 0";

const byArea = (x: string, within: WithinAreas) => within(`${x}.area_id`);

/** What belongs to somebody's part, by whom it is looked after and by where it is: told here and nowhere else. */
export const SUBJECTS = {
	area: {
		table: "area",
		named: "code",
		inAreas: (x, within) => within(`${x}.id`),
		hers: (x, person) => `${x}.id = (SELECT area_id FROM person WHERE id = ${person})`,
	},
	person: { table: "person", named: "code", inAreas: byArea, hers: (x, person) => `${x}.id = ${person}` },
	household: { table: "household", named: "code", inAreas: byArea, hers: (x, person) => `${x}.volunteer_id = ${person}` },
	container: {
		table: "container",
		named: "code",
		inAreas: (x, within) => `${x}.household_id IN (SELECT id FROM household WHERE ${within("area_id")})`,
		hers: (x, person) => `${x}.household_id IN (SELECT id FROM household WHERE volunteer_id = ${person})`,
	},
	batch: {
		table: "batch",
		named: "code",
		inAreas: byArea,
		hers: (x, person) =>
			`(${x}.keeper_id = ${person} OR ${x}.household_id IN (SELECT id FROM household WHERE volunteer_id = ${person}))`,
	},
	task: {
		table: "task",
		named: "code",
		// As tasks are found by their code everywhere: the open one, else the last one that was.
		order: "CASE state WHEN 'open' THEN 0 ELSE 1 END, opened_at_ms DESC",
		inAreas: byArea,
		hers: (x, person) => `${x}.assignee_id = ${person}`,
	},
	generator: { table: "generator", named: "code", inAreas: byArea, hers: (x, person) => `${x}.operator_id = ${person}` },
	"generator run": {
		table: "generator_run",
		named: "code",
		inAreas: (x, within) => `${x}.generator_id IN (SELECT id FROM generator WHERE ${within("area_id")})`,
		hers: (x, person) => `${x}.generator_id IN (SELECT id FROM generator WHERE operator_id = ${person})`,
	},
	battery: {
		table: "battery",
		named: "code",
		inAreas: byArea,
		hers: (x, person) => `${x}.generator_id IN (SELECT id FROM generator WHERE operator_id = ${person})`,
	},
	"kit lot": { table: "kit_lot", named: "code", inAreas: byArea, hers: (x, person) => `${x}.holder_id = ${person}` },
	"stock item": {
		table: "stock_item",
		named: "code",
		inAreas: byArea,
		hers: (x, person) =>
			`(${x}.holder_id = ${person} OR ${x}.generator_id IN (SELECT id FROM generator WHERE operator_id = ${person}))`,
	},
	message: {
		table: "message",
		named: "id",
		inAreas: (x, within) => `${x}.recipient_id IN (SELECT id FROM person WHERE ${within("area_id")})`,
		hers: (x, person) => `${x}.recipient_id = ${person}`,
	},
	reply: {
		table: "reply",
		named: "id",
		// From a number that nobody has: in nobody's part, and so the administrator's.
		inAreas: (x, within) =>
			`(${x}.person_id IN (SELECT id FROM person WHERE ${within("area_id")}) OR ${x}.task_id IN (SELECT id FROM task WHERE ${within("area_id")}))`,
		hers: (x, person) => `${x}.person_id = ${person}`,
	},
	"assignment proposal": { table: "assignment_proposal", named: "id", inAreas: byArea, hers: () => NEVER },
	"audit sample": { table: "audit_sample", named: "id", inAreas: byArea, hers: () => NEVER },
	incident: { table: "incident", named: "id", inAreas: byArea, hers: () => NEVER },
	"ledger entry": { table: "ledger_entry", named: "id", inAreas: byArea, hers: () => NEVER },
} as const satisfies Record<string, Subject>;

export type SubjectKind = keyof typeof SUBJECTS;

export function subjectOf(kind: SubjectKind): Subject {
	return SUBJECTS[kind];
}
