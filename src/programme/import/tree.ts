import type { CheckedRow } from "./checked.js";
import type { ImportKind, Tree } from "./kind.js";
import { suggestion } from "./nearest.js";
import type { Query } from "./references.js";
import { type ImportProblem, shownValue } from "./report.js";

/** A row as part of a tree. */
export interface Branch {
	/** On which it stands; none for a row that is in the database only. */
	readonly line?: number;
	readonly parentCode: string | null;
	/** What decides whether others may name it. */
	readonly asked?: string;
}

export function branchOf(row: CheckedRow, { asks }: Tree): Branch {
	return { line: row.line, parentCode: row.parentCode, ...(asks && { asked: row.fields[asks.column] as string }) };
}

/** @returns every row that the database holds, as part of its tree */
export async function storedBranches(query: Query, { table, tree }: ImportKind): Promise<Map<string, Branch>> {
	if (!tree) return new Map();
	const asked = tree.asks ? `, x.${tree.asks.column} AS asked` : "";
	const rows = await query<{ code: string } & Branch>(
		`SELECT x.code, p.code AS parent_code${asked} FROM ${table} x LEFT JOIN ${table} p ON p.id = x.${tree.field}`,
	);
	return new Map(rows.map((row) => [row.code, row]));
}

/**
 * What is wrong with the tree that a file's rows would make together with those that are there already.
 * @param file the file's rows by code
 * @param stored the database's rows by code
 * @param lineOf every code that stands in the file, rows with other problems too
 * @returns a problem for each row that names a code that nobody has, or one that may not be named, and one for each circle
 */
export function treeProblems(
	{ noun, tree }: Pick<ImportKind, "noun" | "tree">,
	file: ReadonlyMap<string, Branch>,
	stored: ReadonlyMap<string, Branch>,
	lineOf: ReadonlyMap<string, number>,
): ImportProblem[] {
	if (!tree) return [];
	const at = (code: string) => file.get(code) ?? stored.get(code);
	const { column, asks } = tree;
	const problems: ImportProblem[] = [];
	for (const { line = 1, parentCode } of file.values()) {
		if (parentCode === null) continue;
		const add = (message: string) => problems.push({ line, column, value: shownValue(parentCode), message });
		const parent = at(parentCode);
		if (!parent && !lineOf.has(parentCode)) {
			const near = problems.length < 100 ? suggestion(parentCode, [...stored.keys(), ...lineOf.keys()]) : "";
			add(`no ${noun} has this code, in this file or before${near}`);
		} else if (parent && asks && !asks.allowed.includes(parent.asked ?? "")) {
			add(
				`is a ${noun} whose ${asks.column} is "${parent.asked}"; it must be ${asks.allowed.map((word) => `"${word}"`).join(" or ")}`,
			);
		}
	}
	for (const circle of circlesOf(file.keys(), (code) => at(code)?.parentCode ?? null)) {
		const inFile = circle.find((code) => file.has(code)) ?? circle[0]!;
		const { line = 1, parentCode } = file.get(inFile) ?? { parentCode: null };
		const shown = [...circle, circle[0]!].slice(0, 12).join(" > ");
		problems.push({
			line,
			column,
			value: shownValue(parentCode ?? ""),
			message: `goes round in a circle, ${shown}: one of them must name another, or none`,
		});
	}
	return problems;
}

/** @returns the codes of each circle, in the order in which they name each other */
export function circlesOf(codes: Iterable<string>, parentOf: (code: string) => string | null): string[][] {
	const settled = new Set<string>();
	const circles: string[][] = [];
	for (const start of codes) {
		const path: string[] = [];
		const onPath = new Set<string>();
		let at: string | null = start;
		while (at !== null && !settled.has(at) && !onPath.has(at)) {
			path.push(at);
			onPath.add(at);
			at = parentOf(at);
		}
		if (at !== null && onPath.has(at)) circles.push(path.slice(path.indexOf(at)));
		for (const code of path) settled.add(code);
	}
	return circles;
}
