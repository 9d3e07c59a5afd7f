import type { CoverageReport } from "../../audit/coverage/coverage.js";
import type { Figure } from "../../audit/coverage/figure.js";
import type { Definition } from "../../audit/coverage/indicator.js";
import { localTimeOf } from "../../time/local.js";
import { tableLines } from "../table.js";

const percent = (share: number | null): string => (share === null ? "-" : `${(share * 100).toFixed(1)} %`);

const intervalOf = ({ low, high }: Figure): string =>
	low === null || high === null ? "" : `${(low * 100).toFixed(1)} - ${(high * 100).toFixed(1)}`;

/** @returns a report as a table a person reads, with what each figure means where that is asked for */
export function coverageText(report: CoverageReport, inWords: boolean): string {
	const { area, period, definitions, figures, areas } = report;
	const upTo = period.isPartial ? `, not over: counted up to ${localTimeOf(period.untilMs, period.timeZone)}` : "";
	const names = new Map(definitions.map(({ code, name }) => [code, name]));
	const rows = figures.map((figure) => [
		names.get(figure.indicator) ?? figure.indicator,
		...[String(figure.numerator), String(figure.denominator), percent(figure.share), intervalOf(figure), String(figure.missing)],
	]);
	const parts = areas.filter(({ depth }) => depth === 1);
	return [
		`COVERAGE of ${area.name} (${area.code}) with all below it`,
		`from ${period.from} to ${period.to} (${period.timeZone})${upTo}`,
		"",
		...tableLines(["", "counted", "of", "share", "95 % interval", "missing"], rows),
		"",
		...(parts.length > 0 ? [...partLines(parts, definitions), ""] : []),
		...(inWords ? definitions.flatMap(wordLines) : ["--words tells what each figure means and by whom it is defined."]),
		"",
	].join("\n");
}

/** The shares of the parts, one column a part. */
function partLines(parts: CoverageReport["areas"], definitions: readonly Definition[]): string[] {
	const rows = definitions.map(({ name }, i) => [name, ...parts.map(({ figures }) => percent(figures[i]?.share ?? null))]);
	return tableLines(["share", ...parts.map(({ code }) => code)], rows);
}

function wordLines({ code, name, words, missing, source }: Definition): string[] {
	return [`${name} (${code})`, `  ${words}`, `  Missing: ${missing}.`, `  Source: ${source}.`];
}
