import type { Policy } from "../policy.js";
import type { Column, Manner } from "./column.js";
import { BrokenForm, type CsvRow, rowsOfCsv } from "./csv.js";
import { headerLineOf, headerProblems, namesOf, separatorOf } from "./header.js";
import type { Fields, ImportKind } from "./kind.js";
import { suggestion } from "./nearest.js";
import { codesOf, type Found, foundByCode, type Query, type Reference } from "./references.js";
import { type Problems, shownValue } from "./report.js";

/** A row in which nothing is wrong. */
export interface CheckedRow {
	readonly line: number;
	readonly code: string;
	/** The code that its tree column names. */
	readonly parentCode: string | null;
	/** What is written of it: plain values, by database column. */
	readonly fields: Fields;
}

/** One reading of a file from its first line to its last. */
export interface Reading {
	readonly kind: ImportKind;
	readonly query: Query;
	readonly nowMs: number;
	readonly policy: Policy;
	readonly mostRows: number;
	readonly defaultCountry: Manner["defaultCountry"];
	readonly problems: Problems;
	/** On which line each code stands. */
	readonly lineOf: Map<string, number>;
	/** Rows so far. */
	rows: number;
}

interface ReadRow {
	readonly line: number;
	/** Of the cells that are right. */
	readonly values: Record<string, unknown>;
	readonly sound: boolean;
}

/** Rows that are looked up, and written, by one statement. */
export const CHUNK_ROWS = 500;

/** Reads a file and checks every cell. @returns the rows that are right, some hundreds at a time; the rest is in `reading.problems` */
export async function* checkedRows(path: string, reading: Reading): AsyncGenerator<CheckedRow[]> {
	const separator = separatorOf(await headerLineOf(path));
	const manner: Manner = { separator, defaultCountry: reading.defaultCountry, decimalMark: undefined };
	let names: string[] = [];
	let waiting: ReadRow[] = [];
	const resolve = resolverOf(reading);
	try {
		for await (const row of rowsOfCsv(path, separator)) {
			if (names.length === 0) {
				names = acceptedHeader(row, reading);
				if (names.length === 0) return;
				continue;
			}
			if (++reading.rows > reading.mostRows) {
				const message = `is row ${reading.rows}; a file may hold ${reading.mostRows}: split it into several, each with the header`;
				reading.problems.add({ line: row.line, column: "", value: "", message });
				return;
			}
			waiting.push(readRow(row, names, manner, reading));
			if (waiting.length < CHUNK_ROWS) continue;
			yield await resolve(waiting);
			waiting = [];
		}
	} catch (error) {
		if (!(error instanceof BrokenForm)) throw error;
		reading.problems.add(error.problem(names));
	}
	if (waiting.length > 0) yield await resolve(waiting);
	if (reading.rows === 0 && !reading.problems.any) reading.problems.add(nothingIn(names, reading.kind));
}

function nothingIn(names: readonly string[], kind: ImportKind) {
	const message =
		names.length > 0
			? "the file holds no row under its header"
			: `the file is empty; its first line must name the columns: ${Object.keys(kind.columns).join(", ")}`;
	return { line: 1, column: "", value: "", message };
}

/** @returns the header's names, or none where something is wrong with it */
function acceptedHeader(row: CsvRow, { kind, problems }: Reading): string[] {
	const names = namesOf(withoutEmptyEnd(row.cells, 0));
	const wrong = headerProblems(names, kind.columns, row.line);
	for (const problem of wrong) problems.add(problem);
	return wrong.length > 0 ? [] : names;
}

/** Spreadsheets write empty cells beyond the last column. */
function withoutEmptyEnd(cells: readonly string[], atLeast: number): readonly string[] {
	let end = cells.length;
	while (end > atLeast && cells[end - 1] === "") end--;
	return cells.slice(0, end);
}

function readRow(row: CsvRow, names: readonly string[], manner: Manner, reading: Reading): ReadRow {
	const { line } = row;
	const { kind, problems, lineOf } = reading;
	const cells = withoutEmptyEnd(row.cells, names.length);
	const values: Record<string, unknown> = {};
	let sound = true;
	const refuse = (column: string, value: string, message: string) => {
		sound = false;
		problems.add({ line, column, value, message });
	};
	if (cells.length !== names.length) {
		refuse("", "", `has ${cells.length} cells, the header ${names.length}: a cell that holds the separator must stand in quotes`);
		return { line, values, sound };
	}
	names.forEach((name, at) => {
		const column = kind.columns[name]!;
		const read = readCell(cells[at]!, column, manner);
		if ("wrong" in read) refuse(name, shownValue(cells[at]!, column), read.wrong);
		else values[name] = read.value;
	});
	const key = keyColumn(kind);
	const code = values[key];
	if (typeof code !== "string") return { line, values, sound };
	const before = lineOf.get(code);
	if (before === undefined) lineOf.set(code, line);
	else refuse(key, shownValue(code), `stands on line ${before} too; each code once is right`);
	return { line, values, sound };
}

function readCell(cell: string, column: Column, manner: Manner): { value: unknown } | { wrong: string } {
	if (cell === "") return column.mayBeEmpty ? { value: null } : { wrong: `must not be empty: ${column.right}` };
	const parsed = column.schema.safeParse(column.read(cell, manner));
	if (parsed.success) return { value: parsed.data };
	const near = column.known ? suggestion(cell, column.known) : "";
	return { wrong: `${column.right}${near}${column.advice?.(cell, manner) ?? ""}` };
}

type Resolve = (rows: readonly ReadRow[]) => Promise<CheckedRow[]>;

/** @returns what looks up the codes that rows name, and makes of each sound row what is to be written */
function resolverOf(reading: Reading): Resolve {
	const { kind, problems, query } = reading;
	const references = Object.entries(kind.columns).flatMap(([name, { refers }]) => (refers ? [[name, refers] as const] : []));
	const nearby = suggestionsFrom(query);
	return async (rows) => {
		const found = new Map<string, Map<string, Found>>();
		const unsound = new Set(rows.filter((row) => !row.sound));
		for (const [name, refers] of references) {
			const codes = new Set(rows.flatMap(({ values }) => (typeof values[name] === "string" ? [values[name]] : [])));
			const here = await foundByCode(query, refers, codes);
			found.set(name, here);
			if (here.size === codes.size) continue;
			for (const row of rows) {
				const code = row.values[name];
				if (typeof code !== "string" || here.has(code)) continue;
				unsound.add(row);
				const near = problems.room ? await nearby(refers, code) : "";
				problems.add({
					line: row.line,
					column: name,
					value: shownValue(code),
					message: `no ${refers.noun} has this code${near}`,
				});
			}
		}
		return rows.filter((row) => !unsound.has(row)).flatMap((row) => checkedRow(row, found, reading) ?? []);
	};
}

function checkedRow(
	{ line, values }: ReadRow,
	foundIn: ReadonlyMap<string, ReadonlyMap<string, Found>>,
	{ kind, problems, nowMs, policy }: Reading,
): CheckedRow | undefined {
	let sound = true;
	const found = (column: string) => foundIn.get(column)?.get(values[column] as string);
	const fields = kind.fieldsOf(values, {
		nowMs,
		policy,
		found,
		idOf: (column) => found(column)?.id ?? null,
		refuse(column, message) {
			sound = false;
			problems.add({ line, column, value: shownValue(writtenOf(values[column]), kind.columns[column]), message });
		},
	});
	const parentCode = kind.tree ? ((values[kind.tree.column] as string | null) ?? null) : null;
	return sound ? { line, code: values[keyColumn(kind)] as string, parentCode, fields } : undefined;
}

/** @returns the column whose value makes a row the same at the next import */
const keyColumn = ({ key }: ImportKind): string => key?.column ?? "code";

function writtenOf(value: unknown): string {
	return value === null || value === undefined ? "" : String(value);
}

/** @returns what suggests the nearest code that may be named; they are read once, when the first is asked for */
function suggestionsFrom(query: Query): (to: Reference, code: string) => Promise<string> {
	const known = new Map<string, Promise<string[]>>();
	return async (to, code) => {
		const codes = known.get(to.select) ?? codesOf(query, to);
		known.set(to.select, codes);
		return suggestion(code, await codes);
	};
}
