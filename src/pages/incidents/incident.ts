import type { FollowUp } from "../../audit/incidents/follow-up.js";
import type { OpenIncident } from "../../audit/incidents/incident-kind.js";
import type { Incidents } from "../../audit/incidents/incidents.js";
import type { IncidentState } from "../../audit/incidents/rows.js";
import type { Line, TimeLine } from "../../audit/incidents/time-line.js";
import type { Store } from "../../store/store.js";
import { type Child, type Html, html } from "../html.js";
import type { Shown, Visit } from "../page.js";
import { within } from "../part.js";
import { refusal, told } from "../refused.js";
import { toldAgain } from "../said.js";
import { facts, table } from "../tables.js";
import type { Words } from "../words.js";
import { DONE, type NotTaken, stepForms } from "./step-forms.js";

export interface IncidentParts {
	readonly store: Store;
	readonly incidents: Incidents;
	readonly timeLine: TimeLine;
	readonly followUp: FollowUp;
}

/** Whose pages show it: where its own lie, and to which entry of the navigation they belong. */
export interface IncidentPlace {
	readonly path: "/office/incidents" | "/team/incidents";
	readonly here: string;
}

export interface IncidentRow extends Omit<OpenIncident, "found"> {
	readonly kind: string;
	readonly areaCode: string;
	readonly state: IncidentState;
	readonly found: string;
	readonly closedBecause: string | null;
	readonly lookedIntoBy: string | null;
	readonly lookedIntoAtMs: number | null;
}

export const INCIDENTS = `SELECT i.id, i.kind, i.cause_id, i.subject_id, i.area_id, a.code AS area_code, i.happened_at_ms, i.opened_at_ms, i.state, i.found, i.closed_because,
	p.code AS looked_into_by, i.looked_into_at_ms FROM incident i JOIN area a ON a.id = i.area_id LEFT JOIN person p ON p.id = i.looked_into_by`;

/** One incident with its time line: what happened, who was asked and told and when, what they answered, what was done. */
export async function incidentPage(parts: IncidentParts, visit: Visit, place: IncidentPlace, refused?: NotTaken): Promise<Shown> {
	const { store, incidents, timeLine, followUp } = parts;
	const { words, query } = visit;
	const id = await within(store, visit, "incident", visit.named["id"] as string);
	const [row] = await store.query<IncidentRow>(`${INCIDENTS} WHERE i.id = $1`, [id]);
	const kind = row && incidents.named(row.kind);
	if (!row || !kind)
		return { title: words("error.nothingHere"), main: html`<p>${words("error.nothingHere.what")}</p>`, status: 404 };
	const found = JSON.parse(row.found) as OpenIncident["found"];
	const lines = await timeLine.of(kind, { ...row, found });
	const done = DONE.find((one) => one === query.get("is"));
	const main = html`${refusal(refused?.refused, words)}${told(done && words("incidents.done", { step: done }))}${facts([
		[words("map.areaName"), html`<bdi class="code">${row.areaCode}</bdi>`],
		[words("incidents.since"), words.moment(Number(row.happenedAtMs))],
		[words("lead.state"), stateWords(row.state, words)],
		[words("incidents.found"), detailOf(found, words)],
		...(row.lookedIntoAtMs === null
			? []
			: [
					[
						words("incidents.lookedInto"),
						html`${words.moment(Number(row.lookedIntoAtMs))} <bdi class="code">${row.lookedIntoBy ?? ""}</bdi>`,
					] as const,
				]),
		...(row.closedBecause === null ? [] : [[words("incidents.because"), becauseSaid(row.closedBecause, words)] as const]),
	])}
${row.state !== "closed" && stepForms(visit, { path: `${place.path}/${id}`, state: row.state, version: await followUp.tagOf(id) }, refused?.faults)}
<h2>${words("incidents.timeLine")}</h2>
${
	lines.length === 0
		? html`<p>${words("incidents.noLines")}</p>`
		: table(
				words("incidents.timeLineTable"),
				[words("checks.givenAt"), words("incidents.of"), words("incidents.what"), words("incidents.details")],
				lines.map((line) => lineCells(line, words)),
			)
}`;
	return { title: kindWords(row.kind, words), main, here: place.here, ...(refused && { status: refused.status }) };
}

/** What settled it is told again; what a person wrote stays as it is. */
function becauseSaid(because: string, words: Words): Html {
	return html`<bdi>${words.said(because) ?? because}</bdi>`;
}

function lineCells({ atMs, of, what, detail }: Line, words: Words): Child[] {
	return [words.moment(atMs), words("incidents.isOf", { of }), toldAgain(what, words), detailOf(detail, words)];
}

/** Codes and figures as they are named in the records, units included; instants as days and times of day. */
function detailOf(detail: OpenIncident["found"], words: Words): Html {
	const told = Object.entries(detail).filter(([, value]) => value !== null);
	const said = (name: string, value: string | number | null) =>
		name.endsWith("AtMs") ? `${name.slice(0, -"AtMs".length)}: ${words.moment(Number(value))}` : `${name}: ${value}`;
	return html`<span lang="en" dir="ltr">${told.map(([name, value]) => said(name, value)).join(", ")}</span>`;
}

export function kindWords(kind: string, words: Words): string {
	return words("incidents.isKind", { kind: kind.replaceAll(" ", "") });
}

export function stateWords(state: IncidentState, words: Words): Child {
	const said = words("incidents.isState", { state: state === "looked into" ? "looked" : state });
	return state === "open" ? html`<strong class="wrong">${said}</strong>` : said;
}
