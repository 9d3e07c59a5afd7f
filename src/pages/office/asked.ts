import { householdsVisited } from "../../audit/coverage/indicators/households-visited.js";
import { indicators } from "../../audit/coverage/list.js";
import type { Store } from "../../store/store.js";
import { lastOfMonth, localDateOf } from "../../time/local.js";
import { type Html, html } from "../html.js";
import type { Visit } from "../page.js";
import { type OwnArea, ownAreas } from "../part.js";
import { choices } from "../tables.js";
import type { Words } from "../words.js";

/** Of where, of which month and of which figure a page tells. */
export interface OfficeAsked {
	readonly area: OwnArea;
	readonly areas: readonly OwnArea[];
	/** 'YYYY-MM'. */
	readonly month: string;
	/** Local dates, both included; the month is counted up to now where it isn't over. */
	readonly from: string;
	readonly to: string;
	readonly indicator: string;
}

const FIRST_SHOWN = householdsVisited.code;

/** @returns what the address asks for, or what is usual: the top of her part, this month; none where she has no area */
export async function askedOf(store: Store, visit: Visit): Promise<OfficeAsked | undefined> {
	const { query, nowMs } = visit;
	const areas = await ownAreas(store, visit);
	const area = areas.find(({ code }) => code === query.get("area")) ?? areas[0];
	if (!area) return undefined;
	const thisMonth = localDateOf(nowMs, area.timeZone).slice(0, 7);
	const given = query.get("month") ?? "";
	const month = /^\d{4}-(0[1-9]|1[0-2])$/.test(given) && given <= thisMonth ? given : thisMonth;
	const indicator = indicators.find(({ code }) => code === query.get("indicator"))?.code ?? FIRST_SHOWN;
	return { area, areas, month, from: `${month}-01`, to: lastOfMonth(`${month}-01`), indicator };
}

/** Where, when and what is chosen anew. */
export function askForm(path: string, { area, areas, month, indicator }: OfficeAsked, words: Words, withIndicator = true): Html {
	return html`<form class="filters" method="get" action="${path}">
${choices(
	"area",
	"area",
	words("map.area"),
	areas.map(({ code, name }) => ({ value: code, words: words("lead.named", { name, code }) })),
	area.code,
)}
<p class="field"><label for="month">${words("office.month")}</label><input type="month" id="month" name="month" value="${month}" pattern="[0-9]{4}-[0-9]{2}"></p>
${
	withIndicator &&
	choices(
		"indicator",
		"indicator",
		words("office.shown"),
		indicators.map(({ code }) => ({ value: code, words: indicatorName(code, words) })),
		indicator,
	)
}
<button class="quiet">${words("map.show")}</button></form>`;
}

/** The name of a figure in the visitor's language. */
export function indicatorName(code: string, words: Words): string {
	return words("office.indicator", { code: code.replaceAll("-", "") });
}

export function addressOf(path: string, { area, month, indicator }: Pick<OfficeAsked, "area" | "month" | "indicator">): string {
	return `${path}?${new URLSearchParams({ area: area.code, month, indicator })}`;
}
