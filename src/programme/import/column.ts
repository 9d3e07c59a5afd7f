import type { CountryCode } from "libphonenumber-js";
import { z } from "zod";
import type { Reference } from "./references.js";

/** How one file writes its cells. */
export interface Manner {
	readonly separator: "," | ";" | "\t";
	readonly defaultCountry: CountryCode | undefined;
	/** The mark that the first number with decimals used: the same holds for the rest of the file. */
	decimalMark: "." | "," | undefined;
}

/** One column of a file: how a cell is read, and which values are right. */
export interface Column<T = unknown> {
	/** Of the value, not of the cell: an API can use it for the same field. */
	readonly schema: z.ZodType<T>;
	/** Follows the value in a report: "must be 0 to 1 (share of the sky)". */
	readonly right: string;
	/** The value that a cell writes; where it writes none, anything that the schema refuses. */
	readonly read: (cell: string, manner: Manner) => unknown;
	/** What else may be said of a cell that isn't right. */
	readonly advice?: (cell: string, manner: Manner) => string;
	readonly mayBeEmpty?: boolean;
	/** The whole column may be left out of a file: what is on file then stays as it is. */
	readonly mayBeMissing?: boolean;
	/** The cell is the code of a row in another table. */
	readonly refers?: Reference;
	/** The only values there are: the nearest one is suggested. */
	readonly known?: readonly string[];
	/** What a report may show of a cell. */
	readonly shown?: "in part" | "never";
}

export type Columns = Readonly<Record<string, Column>>;

/** The plain values of a row, by column. */
export type ValuesOf<C extends Columns> = { readonly [K in keyof C]: C[K] extends Column<infer T> ? T : never };

/** The same column, whose cell may be empty: its value is then `null`. */
export function orEmpty<T>(column: Column<T>): Column<T | null> {
	return { ...column, schema: column.schema.nullable().meta({ description: `${column.right}, or empty` }), mayBeEmpty: true };
}

/** The same column, which a file needn't have: its value is then `undefined`, and `null` where its cell is empty. */
export function orMissing<T>(column: Column<T>): Column<T | null | undefined> {
	return { ...orEmpty(column), mayBeMissing: true } as Column<T | null | undefined>;
}

/** Control characters, halves of a surrogate pair, and the mark that stands where a character was lost. */
export const UNCLEAN = /[\p{Cc}\p{Surrogate}\uFFFD]/u;

/** One line of text. @param longest characters at most */
export function textColumn(longest: number, shown?: Column["shown"]): Column<string> {
	const right = `must be one line of 1 to ${longest} characters`;
	const schema = z
		.string(right)
		.min(1, right)
		.max(longest, right)
		.refine((text) => !UNCLEAN.test(text), right);
	return { schema: schema.meta({ description: right }), right, read: (cell) => cell, ...(shown && { shown }) };
}

const CODE = "must be 1 to 40 letters, digits or . _ / -, beginning with a letter or digit";

/** The programme's own name for a row: the same code is the same row at the next import. */
export function codeColumn(): Column<string> {
	return patternColumn(/^[\p{L}\p{N}][\p{L}\p{M}\p{N}._/-]{0,39}$/u, CODE);
}

/** The code of a row in another table. */
export function referenceColumn(refers: Reference): Column<string> {
	return { ...codeColumn(), refers };
}

export function patternColumn(pattern: RegExp, right: string): Column<string> {
	return { schema: z.string(right).regex(pattern, right).meta({ description: right }), right, read: (cell) => cell };
}

/** One of a few words, as they are. */
export function choiceColumn<const W extends readonly string[]>(...words: W): Column<W[number]> {
	const right = `must be ${words.map((word) => `"${word}"`).join(" or ")}`;
	return { schema: z.enum(words, right).meta({ description: right }), right, read: (cell) => cell, known: words };
}

/** Yes or no. */
export function flagColumn(): Column<boolean> {
	const right = 'must be "yes" or "no"';
	const read = (cell: string) => ({ yes: true, no: false })[cell.toLowerCase()] ?? cell;
	return { schema: z.boolean(right).meta({ description: right }), right, read };
}

interface Bounds {
	readonly from: number;
	readonly to: number;
	/** In words, as it stands in a report. */
	readonly unit?: string;
}

/** A number within bounds, both included. */
export function numberColumn({ from, to, unit }: Bounds): Column<number> {
	const right = `must be ${from} to ${to}${unit ? ` (${unit})` : ""}`;
	return { schema: z.number(right).min(from, right).max(to, right).meta({ description: right }), right, ...numeric };
}

/** A number above 0, up to a bound that is included. */
export function positiveColumn({ to, unit }: Omit<Bounds, "from">): Column<number> {
	const right = `must be more than 0 and at most ${to}${unit ? ` (${unit})` : ""}`;
	return { schema: z.number(right).gt(0, right).max(to, right).meta({ description: right }), right, ...numeric };
}

/** A whole number within bounds, both included. */
export function wholeColumn({ from, to, unit }: Bounds): Column<number> {
	const right = `must be a whole number, ${from} to ${to}${unit ? ` (${unit})` : ""}`;
	return { schema: z.int(right).min(from, right).max(to, right).meta({ description: right }), right, ...numeric };
}

const numeric: Pick<Column, "read" | "advice"> = {
	read(cell, manner) {
		const match = /^[+-]?(?:\d+|\d*([.,])\d+)$/.exec(cell);
		if (!match) return cell;
		const mark = match[1] as Manner["decimalMark"];
		if (mark === undefined) return Number(cell) + 0;
		if (mark === "," && manner.separator !== ";") return cell;
		// 1.500 is a litre and a half in one country and fifteen hundred in another: one file can't mean both.
		manner.decimalMark ??= mark;
		if (mark !== manner.decimalMark) return cell;
		return Number(cell.replace(",", ".")) + 0;
	},
	advice(cell, manner) {
		if (!/^[+-]?\d*[.,]\d+$/.test(cell)) return "";
		if (cell.includes(",") && manner.separator !== ";")
			return "; a decimal comma is read only where semicolons separate the columns";
		const mark = cell.includes(",") ? "," : ".";
		if (!manner.decimalMark || mark === manner.decimalMark) return "";
		return `; further up this file writes decimals with "${manner.decimalMark}", and one file can't use both marks`;
	},
};
