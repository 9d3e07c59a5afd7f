import type { OpenIncident } from "../../audit/incidents/incident-kind.js";
import { type Html, html } from "../html.js";
import type { Shown, Visit } from "../page.js";
import { inPartOf } from "../part.js";
import { table } from "../tables.js";
import { INCIDENTS, type IncidentParts, type IncidentPlace, type IncidentRow, kindWords, stateWords } from "./incident.js";

const MOST = 100;

/** What went wrong, the open ones first. */
export async function incidentList(
	{ store }: Pick<IncidentParts, "store">,
	visit: Visit,
	{ path }: IncidentPlace,
	isTitled = true,
): Promise<Html> {
	const { words } = visit;
	const { texts, parameters } = inPartOf(visit, "incident", "i");
	const rows = await store.query<IncidentRow>(
		`${INCIDENTS} WHERE ${texts.join(" AND ")} ORDER BY CASE i.state WHEN 'open' THEN 0 WHEN 'looked into' THEN 1 ELSE 2 END, i.opened_at_ms DESC, i.id LIMIT ${MOST}`,
		parameters,
	);
	return html`<section>${isTitled && html`<h2>${words("incidents.title")}</h2>`}${
		rows.length === 0
			? html`<p>${words("incidents.none")}</p>`
			: table(
					words("incidents.table"),
					[
						words("incidents.what"),
						words("incidents.about"),
						words("map.areaName"),
						words("incidents.since"),
						words("lead.state"),
					],
					rows.map(({ id, kind, found, areaCode, happenedAtMs, state }) => [
						html`<a href="${path}/${id}">${kindWords(kind, words)}</a>`,
						html`<bdi class="code">${String((JSON.parse(found) as OpenIncident["found"])["about"] ?? "–")}</bdi>`,
						html`<bdi class="code">${areaCode}</bdi>`,
						words.moment(Number(happenedAtMs)),
						stateWords(state, words),
					]),
				)
	}</section>`;
}

/** The same as a page of its own. */
export async function incidentsPage(parts: Pick<IncidentParts, "store">, visit: Visit, place: IncidentPlace): Promise<Shown> {
	return { title: visit.words("incidents.title"), main: await incidentList(parts, visit, place, false), here: place.here };
}

/** @returns how many in the part of whoever asks aren't closed */
export async function openIncidents({ store }: Pick<IncidentParts, "store">, visit: Visit): Promise<number> {
	const { texts, parameters } = inPartOf(visit, "incident", "i");
	const [row] = await store.query<{ number: number | string }>(
		`SELECT COUNT(*) AS number FROM incident i WHERE i.state <> 'closed' AND ${texts.join(" AND ")}`,
		parameters,
	);
	return Number(row?.number ?? 0);
}
