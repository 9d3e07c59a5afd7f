import { RETEST } from "../../stock/due-work.js";
import type { Forecast } from "../../stock/forecast.js";
import { type Child, html } from "../html.js";
import type { Shown, Visit } from "../page.js";
import { inPartOf } from "../part.js";
import { table } from "../tables.js";
import type { Words } from "../words.js";
import type { SupervisorParts } from "./parts.js";

interface Row {
	readonly code: string;
	readonly keeperName: string | null;
	readonly keeperCode: string | null;
	readonly heldMl: number;
	readonly madeAtMs: number;
	readonly forecast: string | null;
	readonly dueAtMs: number | null;
}

const MOST = 200;

/** Jars that hold something, those first that are to be tested first. */
export async function jarsPage({ store }: SupervisorParts, visit: Visit): Promise<Shown> {
	const { words, nowMs } = visit;
	const { texts, parameters } = inPartOf(visit, "batch", "b");
	const rows = await store.query<Row>(
		`SELECT b.code, p.name AS keeper_name, p.code AS keeper_code, COALESCE(b.held_ul / 1000.0, b.volume_l * 1000) AS held_ml, b.made_at_ms, b.forecast, d.due_at_ms
		 FROM batch b LEFT JOIN person p ON p.id = b.keeper_id LEFT JOIN due d ON d.kind = '${RETEST}' AND d.subject_id = b.id
		 WHERE b.state IN ('in use', 'weak') AND ${texts.join(" AND ")} ORDER BY COALESCE(d.due_at_ms, 9007199254740991), b.code LIMIT ${MOST + 1}`,
		parameters,
	);
	const main = html`<p>${words("jars.what")}</p>${
		rows.length === 0
			? html`<p>${words("jars.none")}</p>`
			: table(
					words("jars.table"),
					[
						words("jars.jar"),
						words("jars.keeper"),
						words("jars.held"),
						words("jars.strength"),
						words("jars.verdict"),
						words("jars.retest"),
					],
					rows.slice(0, MOST).map((row) => jarRow(row, words, nowMs)),
				)
	}${rows.length > MOST && html`<p>${words("jars.notAll", { count: MOST })}</p>`}`;
	return { title: words("jars.title"), main, here: "/team/jars" };
}

function jarRow({ code, keeperName, keeperCode, heldMl, forecast: kept, dueAtMs }: Row, words: Words, nowMs: number): Child[] {
	const forecast = kept === null ? null : (JSON.parse(kept) as Forecast);
	const retestAtMs = forecast?.retestAtMs ?? dueAtMs;
	return [
		html`<a href="/team/jars/${encodeURIComponent(code)}"><bdi class="code">${code}</bdi></a>`,
		keeperCode === null ? "–" : html`<bdi>${keeperName ?? keeperCode}</bdi>`,
		words("stock.ml", { ml: words.number(Number(heldMl), 0) }),
		forecast ? strengthWords(forecast.now, words) : "–",
		forecast ? verdictWords(forecast, words) : "–",
		retestAtMs === null
			? words("jars.noRetest")
			: retestAtMs <= nowMs
				? html`<strong class="wrong">${words("jars.now")}</strong>`
				: words.day(retestAtMs),
	];
}

export function strengthWords({ medianGPerL, lowGPerL, highGPerL }: Forecast["now"], words: Words): string {
	return words("jars.gPerL", {
		median: words.number(medianGPerL, 1),
		low: words.number(lowGPerL, 1),
		high: words.number(highGPerL, 1),
	});
}

export function verdictWords({ verdict }: Pick<Forecast, "verdict">, words: Words): Child {
	const said = words("jars.isVerdict", { verdict: verdict === "too old" ? "old" : verdict });
	return verdict === "usable" ? said : html`<strong class="wrong">${said}</strong>`;
}
