import { createReadStream } from "node:fs";
import { CsvError, type Parser, parse } from "csv-parse";
import type { Manner } from "./column.js";
import { type ImportProblem, shownValue } from "./report.js";

/** One row as it stands in the file. */
export interface CsvRow {
	/** On which it begins. */
	readonly line: number;
	readonly cells: readonly string[];
}

/** No row of ours comes near it: a longer one is an unclosed quote, or no table at all. */
const LONGEST_ROW_BYTES = 16_384;

/** The file's form is broken: what follows can't be told apart into rows. */
export class BrokenForm extends Error {
	constructor(
		readonly line: number,
		readonly columnIndex: number,
		message: string,
	) {
		super(message);
	}

	problem(names: readonly string[]): ImportProblem {
		return { line: this.line, column: names[this.columnIndex] ?? "", value: "", message: this.message };
	}
}

/**
 * The rows of a file (RFC 4180, with any of the three line ends), the header first; blank lines are left out.
 * @throws BrokenForm where a quote is wrong or a row is too long, once every row before it has been given
 */
export async function* rowsOfCsv(path: string, separator: Manner["separator"]): AsyncGenerator<CsvRow> {
	let read: string[][] = [];
	const parser = parse({
		bom: true,
		delimiter: separator,
		record_delimiter: ["\r\n", "\n", "\r"],
		relax_column_count: true,
		max_record_size: LONGEST_ROW_BYTES,
		// Taken here rather than out of the stream, which drops what it still holds when an error comes.
		on_record: (cells: string[]) => {
			read.push(cells);
			return null;
		},
	});
	parser.on("error", () => undefined).resume();
	let line = 1;
	for await (const error of errorsWhile(parser, createReadStream(path))) {
		const rows = read;
		read = [];
		for (const cells of rows) {
			const row = { line, cells: cells.map((cell) => cell.normalize("NFC").trim()) };
			line += 1 + lineEndsIn(cells);
			if (row.cells.some((cell) => cell !== "")) yield row;
		}
		if (error instanceof CsvError) throw brokenForm(error, line);
		if (error) throw error;
	}
}

/** Feeds a parser piece by piece. @returns after each piece, and after the end, the error that it met, if any */
async function* errorsWhile(parser: Parser, pieces: AsyncIterable<Buffer>): AsyncGenerator<Error | null | undefined> {
	for await (const piece of pieces) yield await new Promise<Error | null | undefined>((done) => parser.write(piece, done));
	yield await new Promise<Error | null | undefined>((done) => parser.end(done));
}

function lineEndsIn(cells: readonly string[]): number {
	let ends = 0;
	for (const cell of cells) ends += cell.match(/\r\n|\n|\r/g)?.length ?? 0;
	return ends;
}

function brokenForm(error: CsvError, line: number): BrokenForm {
	const column = typeof error["column"] === "number" ? error["column"] : -1;
	const messages: Partial<Record<CsvError["code"], string>> = {
		CSV_QUOTE_NOT_CLOSED: "a quote that opens here is never closed",
		CSV_MAX_RECORD_SIZE: `the row is longer than ${LONGEST_ROW_BYTES} bytes: shorten this cell, or close the quote that opens in it`,
		CSV_INVALID_CLOSING_QUOTE: "a quote closes before the cell ends: write a quote inside a quoted cell twice",
		INVALID_OPENING_QUOTE: "a quote stands inside a cell: put the whole cell in quotes, and write the quote inside it twice",
	};
	return new BrokenForm(line, column, messages[error.code] ?? `can't be read as CSV (${shownValue(error.code)})`);
}
