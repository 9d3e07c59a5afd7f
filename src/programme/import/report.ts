import type { Column } from "./column.js";

/** One thing that is wrong in a file: where, what stands there, and what would be right. */
export interface ImportProblem {
	/** The line on which the row begins; the header is line 1. */
	readonly line: number;
	/** Empty where the whole line, or the file, is meant. */
	readonly column: string;
	/** What stands there, cut short; of a phone number its last three digits, of a name nothing. */
	readonly value: string;
	readonly message: string;
}

/** What became of a file. */
export interface ImportReport {
	readonly kind: string;
	readonly state: "imported" | "already imported" | "refused";
	/** Rows under the header, blank lines not counted. */
	readonly rows: number;
	readonly added: number;
	readonly changed: number;
	readonly unchanged: number;
	/** The first hundred. */
	readonly problems: readonly ImportProblem[];
	/** How many problems there are beside these. */
	readonly more: number;
}

const MOST_PROBLEMS = 100;

/** The problems of one file in the order of their finding: the first hundred, and how many more. */
export class Problems {
	readonly first: ImportProblem[] = [];
	more = 0;

	get any(): boolean {
		return this.first.length > 0;
	}

	/** Whether another one would still be shown, so that it is worth finding out what would be right. */
	get room(): boolean {
		return this.first.length < MOST_PROBLEMS;
	}

	add(problem: ImportProblem): void {
		if (this.room) this.first.push(problem);
		else this.more++;
	}
}

/** @returns `line 17, column volume_l, value "-5": must be 0.5 to 1000 (litres)` */
export function problemText({ line, column, value, message }: ImportProblem): string {
	const where = [`line ${line}`, column && `column ${column}`, value && `value "${value}"`];
	return `${where.filter(Boolean).join(", ")}: ${message}`;
}

/** @returns the whole report in lines of text, for a terminal or a log */
export function reportText(report: ImportReport): string {
	if (report.state === "already imported")
		return `${report.kind}: this file has been imported already (${report.rows} rows); nothing was changed`;
	if (report.state === "imported")
		return `${report.kind}: ${report.rows} rows imported: ${report.added} added, ${report.changed} changed, ${report.unchanged} unchanged`;
	const more = report.more > 0 ? [`and ${report.more} more`] : [];
	return [`${report.kind}: refused, nothing was changed`, ...report.problems.map(problemText), ...more].join("\n");
}

/** Digits with the marks that are written between them, as a phone number in the wrong column would be. */
const LIKE_A_PHONE = /^\s*[+0][\d\s()\-/]{8,}$/;

/** @returns what a report may show of a cell: reports go to logs, so no name, and no more than the last three digits of a phone */
export function shownValue(cell: string, column?: Pick<Column, "shown">): string {
	if (column?.shown === "never") return "";
	if (column?.shown === "in part" || LIKE_A_PHONE.test(cell)) return `…${cell.replace(/\D/g, "").slice(-3)}`;
	const shown = cell.replace(/[\p{Cc}\p{Surrogate}\u2028\u2029]/gu, (character) => escaped(character));
	return shown.length > 60 ? `${[...shown].slice(0, 60).join("")}…` : shown;
}

function escaped(character: string): string {
	return `\\u${character.charCodeAt(0).toString(16).padStart(4, "0")}`;
}
