import type { CoverageReport } from "../coverage/coverage.js";
import type { Figure } from "../coverage/figure.js";
import { harmlessText } from "./harmless.js";

export type Cell = string | number | null;

interface Line {
	readonly report: CoverageReport;
	readonly area: CoverageReport["areas"][number];
	readonly figure: Figure;
	readonly name: string;
}

/** A column of an export: its heading, its HXL hashtag, and what stands in it. */
interface Column {
	readonly heading: string;
	readonly hashtag: string;
	readonly cell: (line: Line) => Cell;
}

/** Hashtags and attributes. Source: HXL 1.1 final (2017), hashtag dictionary and tagging conventions */
export const COLUMNS: readonly Column[] = [
	{ heading: "first day", hashtag: "#date+start", cell: ({ report }) => report.period.from },
	{ heading: "last day", hashtag: "#date+end", cell: ({ report }) => report.period.to },
	{ heading: "area code", hashtag: "#loc+code", cell: ({ area }) => area.code },
	{ heading: "area", hashtag: "#loc+name", cell: ({ area }) => area.name },
	{ heading: "code of the area above", hashtag: "#loc+code+parent", cell: ({ area }) => area.parentCode },
	{ heading: "indicator code", hashtag: "#indicator+code", cell: ({ figure }) => figure.indicator },
	{ heading: "indicator", hashtag: "#indicator+name", cell: ({ name }) => name },
	{ heading: "numerator", hashtag: "#indicator+num+numerator", cell: ({ figure }) => figure.numerator },
	{ heading: "denominator", hashtag: "#indicator+num+denominator", cell: ({ figure }) => figure.denominator },
	{ heading: "missing", hashtag: "#indicator+num+missing", cell: ({ figure }) => figure.missing },
	{ heading: "share", hashtag: "#indicator+num+share", cell: ({ figure }) => rounded(figure.share) },
	{ heading: "95 % interval, low", hashtag: "#indicator+num+share+low", cell: ({ figure }) => rounded(figure.low) },
	{ heading: "95 % interval, high", hashtag: "#indicator+num+share+high", cell: ({ figure }) => rounded(figure.high) },
];

/** @returns a line for each figure of each area, in the report's order; no text in it is taken for a formula */
export function figureLines(report: CoverageReport): Cell[][] {
	const names = new Map(report.definitions.map(({ code, name }) => [code, name]));
	return report.areas.flatMap((area) =>
		area.figures.map((figure) => {
			const line = { report, area, figure, name: names.get(figure.indicator) ?? figure.indicator };
			return COLUMNS.map(({ cell }) => harmless(cell(line)));
		}),
	);
}

/** What each indicator means, a line each. */
export const DEFINITION_HEADINGS = ["indicator code", "indicator", "counted", "means", "missing", "source"];

/** @returns a line for each definition; no text in it is taken for a formula */
export function definitionLines({ definitions }: CoverageReport): Cell[][] {
	return definitions.map(({ code, name, counted, words, missing, source }) =>
		[code, name, counted, words, missing, source].map(harmless),
	);
}

const harmless = (cell: Cell): Cell => (typeof cell === "string" ? harmlessText(cell) : cell);

/** To a millionth: finer is noise, and a text of it would be longer than it says. */
function rounded(share: number | null): number | null {
	return share === null ? null : Math.round(share * 1e6) / 1e6;
}
