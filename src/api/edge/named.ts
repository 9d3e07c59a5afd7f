import { InputError } from "../../errors/errors.js";
import type { Store } from "../../store/store.js";

const TABLES = {
	area: "unknown-area",
	person: "unknown-subject",
	generator: "unknown-subject",
	generator_run: "unknown-subject",
	battery: "unknown-subject",
	kit_lot: "unknown-subject",
	container: "unknown-subject",
	household: "unknown-subject",
	batch: "unknown-subject",
} as const;

const NOUNS: Readonly<Partial<Record<keyof typeof TABLES, string>>> = { generator_run: "run", kit_lot: "lot of reagent" };

/** @returns the id of what a code in the address names @throws InputError 404 where there is none */
export async function idInPath(store: Store, table: keyof typeof TABLES, code: string): Promise<string> {
	const [row] = await store.query<{ id: string }>(`SELECT id FROM ${table} WHERE code = $1`, [code]);
	if (row) return row.id;
	throw new InputError("unknown-subject", `There is no ${NOUNS[table] ?? table} with this code.`, { status: 404 });
}

/**
 * The id of what a code names.
 * @param at the parameter or field in which the code came
 * @throws InputError where there is none: an empty list would look like an answer
 */
export async function idNamed(store: Store, table: keyof typeof TABLES, code: string, at: string): Promise<string> {
	const [row] = await store.query<{ id: string }>(`SELECT id FROM ${table} WHERE code = $1`, [code]);
	if (row) return row.id;
	throw new InputError(TABLES[table], `There is no ${NOUNS[table] ?? table} with this code.`, {
		problems: [{ at, message: `names no ${NOUNS[table] ?? table}` }],
	});
}

/** @returns the same of a code that may be absent */
export async function idIfNamed(
	store: Store,
	table: keyof typeof TABLES,
	code: string | undefined,
	at: string,
): Promise<string | undefined> {
	return code === undefined ? undefined : idNamed(store, table, code, at);
}

/** @returns a condition that holds in an area and in all below it */
export function withinArea(column: string, place: string): string {
	return `${column} IN (WITH RECURSIVE below(id) AS (SELECT id FROM area WHERE id = ${place} UNION SELECT a.id FROM area a JOIN below b ON a.parent_id = b.id) SELECT id FROM below)`;
}
