import { placeholders } from "../../store/sql.js";
import type { Store } from "../../store/store.js";

export type Query = Store["query"];

/** How rows of another table are found by their codes. */
export interface Reference {
	/** One of them, in the trade's word. */
	readonly noun: string;
	readonly table: string;
	/** Selects `code`, `id`, and `time_zone` where there is one; the codes are asked for as `x.code`. */
	readonly select: string;
}

/** A row that a code names. */
export interface Found {
	readonly code: string;
	readonly id: string;
	readonly timeZone?: string;
	/** Of a household. */
	readonly persons?: number;
}

export const toArea: Reference = { noun: "area", table: "area", select: "SELECT x.code, x.id, x.time_zone FROM area x" };
export const toPerson: Reference = { noun: "person", table: "person", select: "SELECT x.code, x.id FROM person x" };
export const toHousehold: Reference = {
	noun: "household",
	table: "household",
	select: "SELECT x.code, x.id, x.persons, a.time_zone FROM household x JOIN area a ON a.id = x.area_id",
};

/** @returns the rows that the codes name, by code; one that isn't there is left out */
export async function foundByCode(query: Query, to: Reference, codes: ReadonlySet<string>): Promise<Map<string, Found>> {
	if (codes.size === 0) return new Map();
	const rows = await query<Found>(`${to.select} WHERE x.code IN (${placeholders(codes.size)})`, [...codes].sort());
	return new Map(rows.map((row) => [row.code, row]));
}

/** @returns every code that may be named; asked for only once something is wrong */
export async function codesOf(query: Query, to: Reference): Promise<string[]> {
	const rows = await query<{ code: string }>(`SELECT r.code FROM (${to.select}) r ORDER BY r.code`);
	return rows.map(({ code }) => code);
}
