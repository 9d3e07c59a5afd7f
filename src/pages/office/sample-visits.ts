import { LAST_RESULT } from "../../audit/sample/findings.js";
import type { VisitOutcome } from "../../audit/sample/rows.js";
import type { Store } from "../../store/store.js";
import { type Html, html } from "../html.js";
import type { Visit } from "../page.js";
import { table } from "../tables.js";
import { visitPath } from "./visit.js";

interface Row {
	readonly place: number;
	readonly cluster: number | null;
	readonly householdCode: string;
	readonly areaCode: string;
	readonly auditorCode: string;
	readonly outcome: VisitOutcome | "open";
	readonly freeChlorineMgPerL: number | null;
}

const MOST = 100;

/** Households to be visited in the order of the draw, with what was found last; a page of them at a time. */
export async function visitsOf(store: Store, { words, query }: Visit, sampleId: string): Promise<Html> {
	const after = Number(query.get("after"));
	const rows = await store.query<Row>(
		`SELECT v.place, v.cluster, h.code AS household_code, a.code AS area_code, p.code AS auditor_code, COALESCE(r.outcome, 'open') AS outcome, r.free_chlorine_mg_per_l
		 FROM audit_visit v JOIN household h ON h.id = v.household_id JOIN area a ON a.id = h.area_id JOIN person p ON p.id = v.auditor_id
		 LEFT JOIN audit_result r ON r.id = ${LAST_RESULT} WHERE v.sample_id = $1 AND v.place > $2 ORDER BY v.place LIMIT ${MOST + 1}`,
		[sampleId, Number.isSafeInteger(after) ? after : 0],
	);
	const shown = rows.slice(0, MOST);
	return html`<section id="visits"><h2>${words("sample.visitsTitle")}</h2><p>${words("visit.how")}</p>${table(
		words("sample.visitsTable"),
		[
			words("map.household"),
			words("map.areaName"),
			words("sample.auditor"),
			words("lead.state"),
			words("sample.reading"),
			words("sample.place"),
		],
		shown.map(({ place, cluster, householdCode, areaCode, auditorCode, outcome, freeChlorineMgPerL: read }) => [
			html`<a href="${visitPath(sampleId, householdCode)}"><bdi class="code">${householdCode}</bdi></a>`,
			html`<bdi class="code">${areaCode}</bdi>`,
			html`<bdi class="code">${auditorCode}</bdi>`,
			words("sample.isOutcome", { outcome }),
			read === null ? "–" : words("sample.mgPerL", { mgPerL: words.number(read) }),
			cluster === null
				? words.number(place)
				: words("sample.inDraw", { place: words.number(place), draw: words.number(cluster) }),
		]),
	)}${rows.length > MOST && html`<p><a class="button quiet" href="/office/samples/${sampleId}?after=${shown.at(-1)?.place ?? 0}#visits">${words("map.next")}</a></p>`}</section>`;
}
