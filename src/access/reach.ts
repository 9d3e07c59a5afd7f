import type { Store } from "../store/store.js";
import { type Place, type SubjectKind, subjectOf } from "./subjects.js";

/** Which part of the programme is somebody's: all of it, areas with all below them, or what one volunteer looks after. */
export type Part = "whole" | { readonly areaIds: readonly string[] } | { readonly volunteerId: string };

/** What keeps a list to a part: a condition in SQL. A list can't be asked for without one. */
export class Limit {
	constructor(readonly text: (place: Place) => string) {}
}

/** All that a list can hold belongs to the one thing that its address names, which was looked at before. */
export const OF_WHAT_IS_NAMED = new Limit(() => "1 = 1");

/** How far somebody's hand reaches; made once for each request, from who asks. */
export class Reach {
	private asked = false;

	constructor(private readonly part: Part) {}

	get isWhole(): boolean {
		return this.part === "whole";
	}

	/** Whether a list was kept to it: a route that says it lists, and never asked, shows too much. */
	get wasAsked(): boolean {
		return this.asked;
	}

	/**
	 * @param x alias of the subject's table in the statement
	 * @returns the condition that a row is within reach; the same text on both databases
	 */
	over(kind: SubjectKind, x: string): Limit {
		this.asked = true;
		return new Limit((place) => this.condition(kind, x, place));
	}

	/**
	 * @param name as a request has it
	 * @returns whether there is such a thing within reach; that there is none and that it is another's are the same
	 */
	async has(store: Pick<Store, "query">, kind: SubjectKind, name: string): Promise<boolean> {
		const { table, named, order } = subjectOf(kind);
		const parameters: unknown[] = [name];
		const condition = this.condition(kind, "x", (value) => `$${parameters.push(value)}`);
		const meant = `SELECT * FROM ${table} WHERE ${named} = $1${order ? ` ORDER BY ${order} LIMIT 1` : ""}`;
		return (await store.query(`SELECT 1 AS one FROM (${meant}) x WHERE ${condition}`, parameters)).length > 0;
	}

	private condition(kind: SubjectKind, x: string, place: Place): string {
		const { part } = this;
		if (part === "whole") return "1 = 1";
		const subject = subjectOf(kind);
		if ("volunteerId" in part) return subject.hers(x, place(part.volunteerId));
		if (part.areaIds.length === 0) return "1 = 0";
		return subject.inAreas(x, (column) => within(column, part.areaIds, place));
	}
}

/** UNION leaves out what was found before, so that areas which lie in each other in a circle come to an end. */
function within(column: string, areaIds: readonly string[], place: Place): string {
	const roots = areaIds.map(place).join(",");
	return `${column} IN (WITH RECURSIVE below(id) AS (SELECT id FROM area WHERE id IN (${roots}) UNION SELECT a.id FROM area a JOIN below b ON a.parent_id = b.id) SELECT id FROM below)`;
}
