import { type AreaFigures } from "../../audit/coverage/coverage.js";
import type { Figure } from "../../audit/coverage/figure.js";
import { areaMarks } from "../../charts/area-marks.js";
import { currentPolicy } from "../../programme/policy.js";
import { among } from "../../store/sql.js";
import { html } from "../html.js";
import { type MapFigure, mapFigure } from "../map-figure.js";
import type { Shown, Visit } from "../page.js";
import { inPartOf } from "../part.js";
import { table } from "../tables.js";
import type { Words } from "../words.js";
import { askedOf, askForm, indicatorName, type OfficeAsked } from "./asked.js";
import { definitions } from "./definitions.js";
import { countCells } from "./figures.js";
import type { OfficeParts } from "./parts.js";

/** More areas than this are told by choosing one of them. */
const MOST_AREAS = 300;

/** What is done of all that should be, in an area and those below it. */
export async function coveragePage(parts: OfficeParts, visit: Visit): Promise<Shown> {
	const { words } = visit;
	const asked = await askedOf(parts.store, visit);
	const title = words("office.title");
	if (!asked) return { title, main: html`<p>${words("office.noArea")}</p>`, here: "/office" };
	const report = await parts.coverage.report({ areaCode: asked.area.code, from: asked.from, to: asked.to });
	const at = report.definitions.findIndex(({ code }) => code === asked.indicator);
	const below = report.areas.filter(({ depth }) => depth === 1);
	const told = (below.length > 0 ? below : report.areas).slice(0, MOST_AREAS);
	const map = await mapOf(parts, visit, asked, told, at);
	const main = html`${askForm("/office", asked, words)}
${report.period.isPartial && html`<p>${words("office.partial")}</p>`}
${table(
	words("office.figures", { area: words("lead.named", report.area), month: words.month(asked.month) }),
	[words("office.figure"), words("office.shareHead"), words("office.counted"), words("office.missing")],
	report.figures.map((figure) => [indicatorName(figure.indicator, words), ...countCells(figure, words)]),
)}
<h2>${indicatorName(asked.indicator, words)}</h2>
${map.figure}
${table(
	words("office.areas"),
	[words("map.areaName"), words("office.shareHead"), words("office.counted"), words("office.missing")],
	told.map((area) => [areaLink(area, asked), ...countCells(area.figures[at] as Figure, words)]),
)}
${definitions(await currentPolicy(parts.store), words)}
<h2>${words("office.exports")}</h2><p>${words("office.exportsWhat")}</p>${exportLinks(asked, words)}`;
	return { title, main, here: "/office", ...map.shown };
}

function areaLink({ code, name, depth }: AreaFigures, { month, indicator }: OfficeAsked) {
	const named = html`<bdi>${name}</bdi> <bdi class="code">${code}</bdi>`;
	return depth === 0
		? named
		: html`<a href="/office?${String(new URLSearchParams({ area: code, month, indicator }))}"><span>${named}</span></a>`;
}

async function mapOf(
	{ store, mapTiles }: OfficeParts,
	visit: Visit,
	{ indicator }: OfficeAsked,
	told: readonly AreaFigures[],
	at: number,
): Promise<MapFigure> {
	const { words } = visit;
	const { texts, parameters } = inPartOf(visit, "area", "a");
	const codes = told.map(({ code }) => code);
	const list = `$${parameters.push(store.kind === "postgres" ? codes : JSON.stringify(codes))}`;
	const places = await store.query<{ code: string; latitudeDeg: number; longitudeDeg: number }>(
		`SELECT a.code, a.latitude_deg, a.longitude_deg FROM area a WHERE a.code ${among(store.kind, list)} AND ${texts.join(" AND ")}`,
		parameters,
	);
	const figures = new Map(told.map((area) => [area.code, area.figures[at] as Figure]));
	const facts = {
		title: words("office.map", { indicator: indicatorName(indicator, words) }),
		description: words("office.mapWhat", { areas: places.length }),
		marks: areaMarks(
			places.map((place) => {
				const { share = null, denominator = 0 } = figures.get(place.code) ?? {};
				return { ...place, share, denominator };
			}),
			(share) => words("jars.percent", { percent: words.number(share * 100, 0) }),
		),
		ties: [],
		legend: [{ kind: "share", words: words("office.dial") }],
	} as const;
	return mapFigure(facts, words, mapTiles);
}

const FORMATS = ["csv", "xlsx", "geojson", "adx"] as const;

/** The interface for programs answers whoever is signed in, within her part: a plain link is enough. */
function exportLinks({ area, from, to, month }: OfficeAsked, words: Words) {
	const where = new URLSearchParams({ area: area.code, from, to });
	return html`<ul class="links">${FORMATS.map((format) => html`<li><a class="button quiet" href="/coverage/figures.${format}?${String(where)}">${words("office.format", { format })}</a></li>`)}
<li><a class="button" href="/reports/monthly.html?${String(new URLSearchParams({ area: area.code, month }))}">${words("office.report")}</a></li></ul>`;
}
