import { isDeepStrictEqual } from "node:util";
import { camelCase } from "../../store/columns.js";
import { placeholders, type Row, valuesOf } from "../../store/sql.js";
import type { Transaction } from "../../store/unit-of-work.js";
import type { CheckedRow } from "./checked.js";
import type { ImportKind } from "./kind.js";
import type { Change, Written } from "./told.js";

/** How many rows were new, how many differed, how many were there as they are. */
export interface Tally {
	added: number;
	changed: number;
	unchanged: number;
}

/**
 * Writes rows that are new or differ, by their code; the others aren't touched. What a tree column names is left to
 * `writeParents`, because the row that it names may come later.
 * @param rows at most 500
 * @param newId for a row that is new; one that is there keeps its id
 * @param isPersonal whether a field's values are about a person, and mustn't be told of
 * @returns what was written
 */
export async function writeRows(
	tx: Transaction,
	kind: ImportKind,
	rows: readonly CheckedRow[],
	newId: () => string,
	tally: Tally,
	isPersonal: (field: string) => boolean,
): Promise<Written> {
	// Neighbours in the file may lie anywhere in the index; in the index's own order its pages are touched once.
	const sorted = rows.toSorted((a, b) => (a.code < b.code ? -1 : 1));
	const first = sorted[0];
	if (!first) return NOTHING;
	const names = Object.keys(first.fields);
	const stored = await storedRows(tx, kind, names, sorted);
	const differing = sorted.filter((row) => !sameAs(row, stored.get(row.code), names));
	const added = differing.filter(({ code }) => !stored.has(code)).map(({ code }) => code);
	tally.added += added.length;
	tally.changed += differing.length - added.length;
	tally.unchanged += sorted.length - differing.length;
	if (differing.length === 0) return NOTHING;
	const whenAdded = Object.entries(kind.whenAdded ?? {});
	// What is kept under the id of the row that its key names has neither an id nor a code of its own.
	const own = kind.key ? [] : ["id", "code"];
	const columns = [...own, ...names, ...whenAdded.map(([name]) => name)];
	const written = differing.map((row) => [
		...(kind.key ? [] : [newId(), row.code]),
		...names.map((name) => bound(row.fields[name])),
		...whenAdded.map(([, value]) => bound(value)),
	]);
	const { text, parameters } = valuesOf(written);
	const set = names.map((name) => `${name} = excluded.${name}`).concat(kind.whenChanged ?? []);
	const kept = await tx.query<{ id: string }>(
		`INSERT INTO ${kind.table} (${columns.join(", ")}) VALUES ${text}
		 ON CONFLICT (${kind.key?.field ?? "code"}) DO UPDATE SET ${set.join(", ")} RETURNING ${kind.key?.field ?? "id"} AS id`,
		parameters,
	);
	const changes = differing.flatMap((row) => {
		const before = stored.get(row.code);
		return before ? changeOf(kind, row, before, names, isPersonal) : [];
	});
	return { ids: kept.map(({ id }) => id), added, changes };
}

const NOTHING: Written = { ids: [], added: [], changes: [] };

/** Sets what the rows' tree column names, once every row of the file is there. */
export async function writeParents(tx: Transaction, { table, tree }: ImportKind, rows: readonly CheckedRow[]): Promise<void> {
	if (!tree || rows.length === 0) return;
	const { text, parameters } = valuesOf(rows.map(({ code, parentCode }) => [code, parentCode]));
	const parent = `(SELECT p.id FROM ${table} p WHERE p.code = v.column2)`;
	await tx.affected(
		`UPDATE ${table} SET ${tree.field} = ${parent} FROM (VALUES ${text}) AS v
		 WHERE ${table}.code = v.column1 AND ${table}.${tree.field} IS DISTINCT FROM ${parent}`,
		parameters,
	);
}

async function storedRows(
	tx: Transaction,
	{ table, tree, key }: ImportKind,
	names: readonly string[],
	rows: readonly CheckedRow[],
): Promise<Map<string, Row>> {
	if (key) return storedByKey(tx, table, key.field, names, rows);
	const columns = ["id", "code", ...names].map((name) => `x.${name}`);
	const parent = tree ? `LEFT JOIN ${table} p ON p.id = x.${tree.field}` : "";
	const found = await tx.query(
		`SELECT ${columns.join(", ")}, ${tree ? "p.code" : "NULL"} AS parent_code FROM ${table} x ${parent} WHERE x.code IN (${placeholders(rows.length)})`,
		rows.map(({ code }) => code),
	);
	return new Map(found.map((row) => [row["code"] as string, row]));
}

/** @returns rows by the key's value in the file; they are found by the id that it names */
async function storedByKey(
	tx: Transaction,
	table: string,
	field: string,
	names: readonly string[],
	rows: readonly CheckedRow[],
): Promise<Map<string, Row>> {
	const codes = new Map(rows.map((row) => [row.fields[field] as string, row.code]));
	const found = await tx.query(
		`SELECT ${names.join(", ")}, NULL AS parent_code FROM ${table} WHERE ${field} IN (${placeholders(codes.size)})`,
		[...codes.keys()],
	);
	return new Map(found.map((row) => [codes.get(row[camelCase(field)] as string) as string, row]));
}

function sameAs(row: CheckedRow, stored: Row | undefined, names: readonly string[]): boolean {
	if (!stored || stored["parentCode"] !== row.parentCode) return false;
	return names.every((name) => sameValue(stored[camelCase(name)] ?? null, row.fields[name] ?? null));
}

function changeOf(
	kind: ImportKind,
	{ line, fields, parentCode }: CheckedRow,
	stored: Row,
	names: readonly string[],
	isPersonal: (field: string) => boolean,
): Change {
	const of = (name: string) => stored[camelCase(name)] ?? null;
	const changed = names.filter((name) => !sameValue(of(name), fields[name] ?? null));
	const told = changed.filter((name) => !isPersonal(name));
	const before = told.map((name): [string, unknown] => [name, plain(of(name), fields[name])]);
	const after = told.map((name): [string, unknown] => [name, fields[name] ?? null]);
	if (kind.tree && stored["parentCode"] !== parentCode) {
		changed.push(kind.tree.column);
		before.push([kind.tree.column, stored["parentCode"] ?? null]);
		after.push([kind.tree.column, parentCode]);
	}
	const id = (kind.key ? fields[kind.key.field] : stored["id"]) as string;
	const areaId = kind.table === "area" ? id : ((fields["area_id"] as string | null | undefined) ?? null);
	return { id, line, fields: changed, before: Object.fromEntries(before), after: Object.fromEntries(after), areaId };
}

/** A stored value in the form in which a file's row has it. */
function plain(stored: Row[string], like: unknown): unknown {
	if (typeof like === "boolean" && stored !== null) return Boolean(stored);
	return typeof like === "object" && like !== null && typeof stored === "string" ? JSON.parse(stored) : stored;
}

function sameValue(stored: Row[string], value: unknown): boolean {
	if (typeof value === "boolean") return Boolean(stored) === value;
	if (typeof value === "object" && value !== null)
		return typeof stored === "string" && isDeepStrictEqual(JSON.parse(stored), value);
	return stored === value;
}

/** A value as both drivers take it. */
function bound(value: unknown): unknown {
	if (typeof value === "boolean") return Number(value);
	return typeof value === "object" && value !== null ? JSON.stringify(value) : (value ?? null);
}
