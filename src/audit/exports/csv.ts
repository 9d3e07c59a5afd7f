import type { CoverageReport } from "../coverage/coverage.js";
import { type Cell, COLUMNS, figureLines } from "./table.js";

/**
 * @returns figures as CSV: a line of headings, a line of HXL hashtags, then a line for each figure of each area
 * Source: RFC 4180; HXL 1.1
 */
export function figuresCsv(report: CoverageReport): string {
	const lines = [COLUMNS.map(({ heading }) => heading), COLUMNS.map(({ hashtag }) => hashtag), ...figureLines(report)];
	return lines.map((cells) => `${cells.map(field).join(",")}\r\n`).join("");
}

/** A text that could end its field, or that was made harmless, stands in quotes. */
function field(cell: Cell): string {
	if (cell === null) return "";
	if (typeof cell === "number") return String(cell);
	return /[",\r\n;']|^\s|\s$/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell;
}
