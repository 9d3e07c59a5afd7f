import { open } from "node:fs/promises";
import type { Columns, Manner } from "./column.js";
import { suggestion } from "./nearest.js";
import { type ImportProblem, shownValue } from "./report.js";

/** The longest header of ours has 44 names. */
const BEGINNING_BYTES = 8192;
const SEPARATORS = [",", ";", "\t"] as const;

/** @returns the mark that the header line holds most of, outside quotes; a comma where it holds none */
export function separatorOf(headerLine: string): Manner["separator"] {
	const bare = headerLine.replace(/"[^"]*"/g, "");
	let most: Manner["separator"] = ",";
	for (const mark of SEPARATORS) if (bare.split(mark).length > bare.split(most).length) most = mark;
	return most;
}

/** @returns the first line of a file that isn't blank, as far as its first 8 kB go */
export async function headerLineOf(path: string): Promise<string> {
	const file = await open(path);
	try {
		const { buffer, bytesRead } = await file.read(Buffer.alloc(BEGINNING_BYTES), 0, BEGINNING_BYTES, 0);
		return (
			buffer
				.toString("utf8", 0, bytesRead)
				.split(/[\r\n]+/)
				.find((line) => line.replace("\uFEFF", "").trim() !== "") ?? ""
		);
	} finally {
		await file.close();
	}
}

/** @returns the column names as they are compared: small letters, nothing around them */
export function namesOf(header: readonly string[]): string[] {
	return header.map((name) => name.toLowerCase());
}

/** @returns what is wrong with a header: every column of the kind that may not be missing must stand in it once, in any order, and no other */
export function headerProblems(names: readonly string[], columns: Columns, line: number): ImportProblem[] {
	const wanted = Object.keys(columns);
	const missing = wanted.filter((name) => !names.includes(name));
	const problems = names.flatMap((name, at): ImportProblem[] => {
		if (names.indexOf(name) < at)
			return [{ line, column: shownValue(name), value: "", message: "stands in the header twice; once is right" }];
		if (wanted.includes(name)) return [];
		// A name that already stands in the header can't be what was meant.
		const near = suggestion(name, missing);
		return [
			{
				line,
				column: shownValue(name),
				value: "",
				message: `isn't a column of this kind of file${near || `; there are ${wanted.join(", ")}`}`,
			},
		];
	});
	const absent = missing
		.filter((name) => !columns[name]?.mayBeMissing)
		.map((name) => ({
			line,
			column: name,
			value: "",
			message: "is missing from the header; its cells may be empty where that is allowed, but the column must be there",
		}));
	return [...problems, ...absent];
}
