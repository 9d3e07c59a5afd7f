import { indicators } from "../../audit/coverage/list.js";
import { trendChartSvg } from "../../charts/trend-chart.js";
import { figure as drawing } from "../figure.js";
import { html } from "../html.js";
import type { Shown, Visit } from "../page.js";
import { table } from "../tables.js";
import { askedOf, askForm, indicatorName } from "./asked.js";
import { countCells } from "./figures.js";
import type { OfficeParts } from "./parts.js";

const MONTHS = 6;

/** One figure month by month, with how far chance alone may have brought it. */
export async function trendsPage({ store, coverage }: OfficeParts, visit: Visit): Promise<Shown> {
	const { words } = visit;
	const asked = await askedOf(store, visit);
	const title = words("office.trends");
	if (!asked) return { title, main: html`<p>${words("office.noArea")}</p>`, here: "/office/trends" };
	const months = await coverage.byMonth({
		areaCode: asked.area.code,
		from: `${monthsBefore(asked.month, MONTHS - 1)}-01`,
		to: asked.to,
		indicators: [asked.indicator],
	});
	const points = months.map(({ period, figures: [figure] }) => ({
		month: words.month(period.from.slice(0, 7)),
		figure: figure!,
	}));
	const name = indicatorName(asked.indicator, words);
	const definition = indicators.find(({ code }) => code === asked.indicator);
	const chart = trendChartSvg({
		title: words("office.trendOf", { indicator: name, area: asked.area.name }),
		description: words("office.trendWhat"),
		points: points.map(({ month, figure: { share, low, high } }) => ({ name: month, share, low, high })),
		percent: (share) => words("jars.percent", { percent: words.number(share * 100, 0) }),
		interval: words("office.interval"),
	});
	const main = html`${askForm("/office/trends", asked, words)}<p>${words(definition?.wanted === "less" ? "office.lessIsWanted" : "office.moreIsWanted")}</p>
${drawing(chart, title)}
${table(
	words("office.trendOf", { indicator: name, area: asked.area.name }),
	[words("office.month"), words("office.shareHead"), words("office.counted"), words("office.missing")],
	points.map(({ month, figure }) => [month, ...countCells(figure, words)]),
)}<p class="small">${words("office.intervalWhat")}</p>`;
	return { title, main, here: "/office/trends" };
}

/** @param month 'YYYY-MM' */
function monthsBefore(month: string, count: number): string {
	const [year, number] = month.split("-").map(Number) as [number, number];
	const months = year * 12 + number - 1 - count;
	return `${String(Math.floor(months / 12)).padStart(4, "0")}-${String((months % 12) + 1).padStart(2, "0")}`;
}
