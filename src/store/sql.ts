import type { QueryResult } from "typeorm";
import { camelCase } from "./columns.js";

/** A row as it comes from a statement: property names in camel case. */
export type Row = Record<string, string | number | boolean | null>;

/**
 * Statements are written with `$1`, `$2`...; SQLite's driver knows only `?`, in the order of their standing.
 * @returns the text and the parameters as the database wants them
 */
export function statementFor(
	kind: "sqlite" | "postgres",
	statement: string,
	parameters: readonly unknown[],
): [string, unknown[]] {
	if (kind === "postgres") return [statement, [...parameters]];
	let known = unnumbered.get(statement);
	if (!known) {
		const order: number[] = [];
		const text = statement.replace(/\$(\d+)/g, (_, number: string) => {
			order.push(Number(number) - 1);
			return "?";
		});
		known = { text, order };
		if (unnumbered.size < 2000) unnumbered.set(statement, known);
	}
	return [known.text, known.order.map((at) => parameters[at])];
}

const unnumbered = new Map<string, { text: string; order: number[] }>();

/** @returns the rows of a structured result, named in camel case */
export function rowsOf<T extends object>(result: QueryResult): T[] {
	const records = (result.records ?? []) as Row[];
	const first = records[0];
	if (!first) return [];
	const names = Object.keys(first).map((column) => [column, camelCase(column)] as const);
	return records.map((record) => {
		const row: Row = {};
		for (const [column, property] of names) row[property] = record[column] as Row[string];
		return row as T;
	});
}

/**
 * The `VALUES` part of a statement that writes many rows at once.
 * @param rows one list of parameters a row, all of one length
 * @returns the text `($1,$2),($3,$4)` and the flat parameters
 */
export function valuesOf(rows: readonly (readonly unknown[])[]): { text: string; parameters: unknown[] } {
	return { text: valuesText(rows.length, rows[0]?.length ?? 0), parameters: rows.flat() };
}

/** Writes come in pages of few sizes: their texts are made once. */
const valuesTexts = new Map<string, string>();

function valuesText(rows: number, width: number): string {
	const key = `${rows}x${width}`;
	let text = valuesTexts.get(key);
	if (text === undefined) {
		text = Array.from({ length: rows }, (_, r) => `(${placeholders(width, r * width + 1)})`).join(",");
		if (valuesTexts.size < 2000) valuesTexts.set(key, text);
	}
	return text;
}

/** `$2,$3,$4` for a list of values that begins at a given parameter number. */
export function placeholders(count: number, from = 1): string {
	return Array.from({ length: count }, (_, i) => `$${from + i}`).join(",");
}
