import { areaMarks } from "../../charts/area-marks.js";
import { monthsChartSvg } from "../../charts/months-chart.js";
import { placeMapSvg } from "../../charts/place-map.js";
import { shareChartSvg } from "../../charts/share-chart.js";
import { escaped as e } from "../../charts/svg.js";
import { headText } from "../../ledger/heads.js";
import { localTimeOf } from "../../time/local.js";
import type { AreaFigures } from "../coverage/coverage.js";
import type { Definition } from "../coverage/indicator.js";
import { cautionsOf, LASTING_CAUTIONS } from "./cautions.js";
import { incidentsSection } from "./incidents-section.js";
import type { MonthlyReport } from "./monthly.js";
import { samplesSection } from "./samples-section.js";
import { STYLE } from "./style.js";
import { number, table } from "./table.js";
import { change, count, interval, monthInWords, percent, utcMinute } from "./words.js";

/** The figure that the map shows. */
const MAPPED = "effective-coverage";
/** More areas than this have no room on a sheet: the exports hold them all. */
const MOST_AREAS = 60;
/** More columns than this are too narrow to be read on paper. */
const COLUMNS_AT_ONCE = 6;

/** @returns the report as one HTML document that needs nothing beside itself: no script, no picture from elsewhere */
export function reportHtml(report: MonthlyReport): string {
	const { area } = report.coverage;
	const title = `${area.name}: ${monthInWords(report.month)}`;
	const body = [heading(report), inShort(report), figures(report), overTime(report), map(report), areas(report)];
	const beside = [incidentsSection(report), samplesSection(report), missing(report)];
	return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${e(title)}</title>
<style>${STYLE}</style>
</head>
<body>
<main>
${[...body, ...beside, cautions(report), definitions(report.coverage.definitions), origin(report)].join("\n")}
</main>
</body>
</html>
`;
}

function heading({ coverage: { area, period }, month }: MonthlyReport): string {
	const upTo = period.isPartial
		? `<p class="partial">The month isn't over: counted up to ${e(localTimeOf(period.untilMs, period.timeZone))}.</p>`
		: "";
	return `<header><p class="kind">Household chlorine: monthly report</p><h1>${e(area.name)} <span class="code">${e(area.code)}</span></h1>
<p class="month">${monthInWords(month)}</p><p>${e(period.from)} to ${e(period.to)}, days as they are in ${e(period.timeZone)}; with all areas below.</p>${upTo}</header>`;
}

/** The three figures that a reader asks for first. */
const FIRST = ["households-visited-in-time", "effective-coverage", "stock-in-strength"];

function inShort({ coverage: { figures: of, definitions: defined } }: MonthlyReport): string {
	const tiles = FIRST.flatMap((code) => {
		const figure = of.find(({ indicator }) => indicator === code);
		const name = defined.find((definition) => definition.code === code)?.name;
		if (!figure || !name) return [];
		const counted = `${count(figure.numerator)} of ${count(figure.denominator)}`;
		const between = figure.share === null ? "nothing was counted" : `${counted}; 95 % interval ${interval(figure)} %`;
		return `<div class="tile"><p class="figure">${percent(figure.share)}</p><p class="what">${e(name)}</p><p class="of">${between}</p></div>`;
	});
	return `<section class="tiles">${tiles.join("")}</section>`;
}

function figures({ coverage, months }: MonthlyReport): string {
	const names = namesOf(coverage.definitions);
	const before = months.at(-2);
	const svg = shareChartSvg(
		`Shares of ${coverage.area.name}`,
		"Each share with its 95 % interval; the table below has the same figures.",
		coverage.figures.map((figure, i) => ({
			...{ name: names.get(figure.indicator) ?? "", share: figure.share, low: figure.low, high: figure.high },
			counted: `${count(figure.numerator)} of ${count(figure.denominator)}`,
			wanted: coverage.definitions[i]?.wanted ?? "more",
		})),
	);
	const rows = coverage.figures.map((figure, i) => {
		const earlier = before?.figures.find(({ indicator }) => indicator === figure.indicator);
		const wanted = coverage.definitions[i]?.wanted === "less" ? ' <span class="less">less is wanted</span>' : "";
		return [
			`<th scope="row">${e(names.get(figure.indicator) ?? "")}${wanted}</th>`,
			...[count(figure.numerator), count(figure.denominator), percent(figure.share), interval(figure)].map(number),
			...[count(figure.missing), before ? change(figure, earlier) : "–"].map(number),
		].join("");
	});
	const headings = ["", "counted", "of", "share", "95 % interval, %", "missing", "points since a month before"];
	return `<section><h2>The month in figures</h2><figure>${svg}</figure>${table(headings, rows, "figures")}</section>`;
}

function overTime({ coverage, months }: MonthlyReport): string {
	if (months.length < 2) return "";
	const panels = coverage.definitions.map(({ code, name }) => {
		const shares = months.map(({ month, figures: of }) => {
			const figure = of.find(({ indicator }) => indicator === code);
			return { month, share: figure?.share ?? null, low: figure?.low ?? null, high: figure?.high ?? null };
		});
		return `<figure class="panel"><figcaption>${e(name)}</figcaption>${monthsChartSvg(`${name} by month`, shares)}</figure>`;
	});
	const rows = coverage.definitions.map(({ code, name }) => {
		const shares = months.map(({ figures: of }) => percent(of.find(({ indicator }) => indicator === code)?.share ?? null));
		return `<th scope="row">${e(name)}</th>${shares.map((share) => number(share.replace(" %", ""))).join("")}`;
	});
	const headings = ["share, %", ...months.map(({ month }) => month.slice(2))];
	return `<section><h2>Month by month</h2><p>A dot is the share, its bar the 95 % interval; a month in which nothing was counted has neither.</p>
<div class="panels">${panels.join("")}</div>${table(headings, rows, "narrow")}</section>`;
}

function map({ coverage, places }: MonthlyReport): string {
	const definition = coverage.definitions.find(({ code }) => code === MAPPED);
	const placeOf = new Map(places.map((place) => [place.code, place]));
	const above = new Set(coverage.areas.map(({ parentCode }) => parentCode));
	const lowest = coverage.areas.filter(({ code }) => !above.has(code));
	const drawn = lowest.flatMap((area) => {
		const place = placeOf.get(area.code);
		const figure = area.figures.find(({ indicator }) => indicator === MAPPED);
		return place && figure ? [{ ...place, share: figure.share, denominator: figure.denominator }] : [];
	});
	const svg = placeMapSvg({
		title: definition?.name ?? "",
		description: "Areas where they lie; the table of areas has the same figures.",
		marks: areaMarks(drawn, (share) => `${Math.round(share * 100)} %`),
		ties: [],
		legend: [{ kind: "share", words: "filled as far as the share" }],
		km: (km) => (km >= 1 ? `${km} km` : `${Math.round(km * 1000)} m`),
		north: "N",
	});
	if (!definition || !svg) return "";
	return `<section><h2>Where: ${e(definition.name.toLowerCase())}</h2><p>A dial is an area without areas below it, at its own point: filled clockwise as far as the share, and the larger the more was counted. A name that would lie over another is left out. No household's place is shown.</p><figure>${svg}</figure></section>`;
}

function areas({ coverage }: MonthlyReport): string {
	const told = coverage.areas.filter(({ depth }) => depth > 0).slice(0, MOST_AREAS);
	if (told.length === 0) return "";
	const shown = coverage.areas.length - 1 - told.length;
	const row =
		(from: number) =>
		({ name, code, depth, figures: of }: AreaFigures) =>
			`<th scope="row" class="depth${Math.min(depth, 4)}">${e(name)} <span class="code">${e(code)}</span></th>${of
				.slice(from, from + COLUMNS_AT_ONCE)
				.map(({ share, numerator, denominator }) =>
					denominator === 0
						? number("–")
						: `<td>${percent(share)}<br/><small>${count(numerator)} of ${count(denominator)}</small></td>`,
				)
				.join("")}`;
	const rest = shown > 0 ? `<p>${count(shown)} more areas aren't shown; the exports have all of them.</p>` : "";
	const parts = coverage.definitions.flatMap((_, from) => {
		if (from % COLUMNS_AT_ONCE !== 0) return [];
		const names = coverage.definitions.slice(from, from + COLUMNS_AT_ONCE).map(({ name }) => name);
		return [table(["", ...names], told.map(row(from)), "areas")];
	});
	return `<section><h2>Area by area</h2>${parts.join("")}${rest}</section>`;
}

function missing({ coverage }: MonthlyReport): string {
	const names = namesOf(coverage.definitions);
	const rows = coverage.figures.flatMap((figure, i) => {
		const why = coverage.definitions[i]?.missing ?? "";
		if (figure.missing === 0) return [];
		return `<th scope="row">${e(names.get(figure.indicator) ?? "")}</th>${number(count(figure.missing))}<td class="text">${e(why)}</td>`;
	});
	const nothing = "<p>Of everything that should be counted, something is known.</p>";
	return `<section><h2>What isn't known</h2>${rows.length === 0 ? nothing : table(["", "missing", "what that is"], rows, "text")}</section>`;
}

function cautions(report: MonthlyReport): string {
	const lines = [...cautionsOf(report), ...LASTING_CAUTIONS].map((line) => `<li>${e(line)}</li>`);
	return `<section><h2>Cautions</h2><ul>${lines.join("")}</ul></section>`;
}

function definitions(defined: readonly Definition[]): string {
	const entries = defined.map(
		({ code, name, words, missing: why, source }) =>
			`<dt>${e(name)} <span class="code">${e(code)}</span></dt><dd>${e(words)} <em>Missing:</em> ${e(why)}. <em>Source:</em> ${e(source)}.</dd>`,
	);
	return `<section><h2>What each figure means</h2><dl>${entries.join("")}</dl></section>`;
}

function origin({ madeAtMs, head, waiting }: MonthlyReport): string {
	const from =
		head.sealedAtMs === null
			? "The ledger had no sealed entry yet."
			: `Made from a ledger of ${count(head.position)} sealed entries with the head <code>${headText(head)}</code>.`;
	const wait = waiting.entries === 0 ? "" : ` ${count(waiting.entries)} entries waited to be sealed.`;
	return `<footer><p>Made on ${utcMinute(madeAtMs)} by Jarwatch. ${from}${wait}</p><p>With <code>jarwatch ledger verify --anchor</code> and this head anybody with the database can find out whether an entry from before was changed since.</p></footer>`;
}

function namesOf(defined: readonly Definition[]): Map<string, string> {
	return new Map(defined.map(({ code, name }) => [code, name]));
}
