import { DefectError } from "../../errors/errors.js";
import type { SealedColumn } from "./sealed-columns.js";

/** Which parameter of a statement, counted from 0, goes into which sealed column. */
export type Written = ReadonlyMap<number, SealedColumn>;

const NOTHING: Written = new Map();

/**
 * Reads off a statement which of its parameters are written into sealed columns.
 * @param columnsOf the sealed columns of a table
 * @throws DefectError where such a value isn't a parameter by itself: it would rest as it is
 */
export function writtenBy(statement: string, columnsOf: (table: string) => readonly SealedColumn[]): Written {
	const [, verb, table] = /^\s*(INSERT INTO|UPDATE)\s+"?(\w+)"?/i.exec(statement) ?? [];
	const columns = table ? columnsOf(table) : [];
	if (!verb || columns.length === 0) return NOTHING;
	const written = new Map<number, SealedColumn>();
	const places = [...(/^insert/i.test(verb) ? inserted(statement, columns) : []), ...set(statement, columns)];
	for (const { value, column } of places) {
		const number = /^(?:CAST\()?\s*\$(\d+)(?:\s+AS\s+text\s*\))?$/i.exec(value)?.[1];
		if (number !== undefined) written.set(Number(number) - 1, column);
		else if (!isHarmless(value, column))
			throw new DefectError(`${column.label} is sealed: give its value as a parameter by itself`);
	}
	for (const [at, { label }] of written)
		if ((statement.match(new RegExp(`\\$${at + 1}(?!\\d)`, "g")) ?? []).length !== placesOf(places, at))
			throw new DefectError(`${label} is sealed: its parameter can't be used for anything else in the same statement`);
	return written;
}

interface Place {
	readonly value: string;
	readonly column: SealedColumn;
}

function placesOf(places: readonly Place[], at: number): number {
	return places.filter(({ value }) => new RegExp(`\\$${at + 1}(?!\\d)`).test(value)).length;
}

/** Nothing, what is being inserted anyway, or JSON whose members can be seen here. */
function isHarmless(value: string, { column, holding }: SealedColumn): boolean {
	return (
		/^(NULL|'')$/i.test(value) || value.toLowerCase() === `excluded.${column}` || (holding !== undefined && value.startsWith("'"))
	);
}

function* inserted(statement: string, columns: readonly SealedColumn[]): Generator<Place> {
	const head = /^\s*INSERT INTO\s+"?\w+"?\s*\(([^)]*)\)\s*(VALUES\b)?/i.exec(statement);
	const names = (head?.[1] ?? "").split(",").map((name) => name.trim().replaceAll('"', ""));
	const wanted = columns.flatMap((column) =>
		names.includes(column.column) ? [{ at: names.indexOf(column.column), column }] : [],
	);
	if (wanted.length === 0 && head) return;
	if (!head?.[2]) throw new DefectError(`${columns[0]?.table} has sealed columns: name its columns and give VALUES`);
	for (const tuple of tuples(statement, head[0].length))
		for (const { at, column } of wanted) yield { value: tuple[at] ?? "", column };
}

/** @returns the values of each tuple that stands from an offset on: `($1, 'a'), ($2, 'b')` */
function* tuples(statement: string, from: number): Generator<string[]> {
	let depth = 0;
	let quoted = false;
	let values: string[] = [];
	let value = "";
	for (let i = from; i < statement.length; i++) {
		const c = statement[i] as string;
		if (c === "'") quoted = !quoted;
		if (quoted || c === "'") value += c;
		else if (c === "(" && depth++ === 0) [values, value] = [[], ""];
		else if (c === ")" && --depth === 0) yield [...values, value.trim()];
		else if (c === "," && depth === 1) [values, value] = [[...values, value.trim()], ""];
		else if (depth > 0) value += c;
		else if (!/[\s,]/.test(c)) return;
	}
}

function* set(statement: string, columns: readonly SealedColumn[]): Generator<Place> {
	for (const column of columns)
		for (const [, value] of statement.matchAll(
			new RegExp(`(?:\\bSET|,)\\s*"?${column.column}"?\\s*=\\s*('[^']*'|[^\\s,]+)`, "gi"),
		))
			yield { value: value as string, column };
}
