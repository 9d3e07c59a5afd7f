import type { z } from "zod";
import { foundAtVisit } from "../../api/audit/sample-schemas.js";
import { LAST_RESULT } from "../../audit/sample/findings.js";
import type { VisitOutcome } from "../../audit/sample/rows.js";
import { InputError } from "../../errors/errors.js";
import type { Store } from "../../store/store.js";
import { instantOfLocal, localDateOf } from "../../time/local.js";
import { type Faults, NO_FAULTS, numberIn } from "../fields.js";
import { type Child, html } from "../html.js";
import type { Answer, Shown, Visit } from "../page.js";
import { inPartOf, isWithin, within } from "../part.js";
import { type Refused, refusal, refusedBy } from "../refused.js";
import { facts } from "../tables.js";
import type { PageText } from "../texts.js";
import { wordsIn } from "../words.js";
import type { Visitable } from "./draw-form.js";
import type { OfficeParts } from "./parts.js";
import { visitForm } from "./visit-form.js";

/** A household of a sample, with what was found there last. */
interface Row {
	readonly householdCode: string;
	readonly areaCode: string;
	readonly timeZone: string;
	readonly auditorCode: string;
	readonly drawnAtMs: number;
	readonly outcome: VisitOutcome | null;
	readonly visitedAtMs: number | null;
	readonly byCode: string | null;
	readonly freeChlorineMgPerL: number | null;
	readonly treated: boolean | number | null;
	readonly containerSeen: boolean | number | null;
	readonly because: string | null;
}

const MOST_PEOPLE = 100;

/** @returns where the result of a visit is entered */
export function visitPath(sampleId: string, householdCode: string): string {
	return `/office/samples/${sampleId}/visits/${encodeURIComponent(householdCode)}`;
}

/** What was found at a household of a sample, and a form to enter it, or to correct what is on file. */
export async function visitPage(
	{ store }: OfficeParts,
	visit: Visit,
	faults: Faults = NO_FAULTS,
	refused?: Refused,
): Promise<Shown> {
	const { words, nowMs } = visit;
	const sampleId = await within(store, visit, "audit sample", visit.named["id"] as string);
	const row = await rowOf(store, visit, sampleId);
	const { householdCode, areaCode, auditorCode, timeZone, outcome } = row;
	const main = html`${refusal(refused, words)}${faults.size > 0 && html`<div class="stop" role="alert"><p><strong>${words("visit.wrong", { count: faults.size })}</strong></p></div>`}
${facts([
	[words("map.areaName"), html`<bdi class="code">${areaCode}</bdi>`],
	[words("sample.auditor"), html`<bdi class="code">${auditorCode}</bdi>`],
	[words("checks.drawn"), wordsIn(words.language, timeZone).moment(Number(row.drawnAtMs))],
])}
<h2>${words("visit.onFile")}</h2>${outcome === null ? html`<p>${words("visit.none")}</p>` : foundFacts(row, visit)}
<h2>${words(outcome === null ? "visit.enter" : "visit.correct")}</h2>
<div class="careful"><p>${words("visit.careful")}</p></div>
${visitForm(
	visit,
	{
		action: visitPath(sampleId, householdCode),
		people: await peopleOf(store, visit, sampleId),
		auditorCode,
		today: localDateOf(nowMs, timeZone),
		isCorrection: outcome !== null,
	},
	faults,
)}
<p><a class="button quiet" href="/office/samples/${sampleId}#visits">${words("visit.back")}</a></p>`;
	const status = refused?.status ?? (faults.size > 0 ? 422 : undefined);
	return { title: words("visit.title", { household: householdCode }), main, here: "/office/checks", ...(status && { status }) };
}

function foundFacts(row: Row, { words }: Visit) {
	const { outcome, visitedAtMs, byCode, freeChlorineMgPerL: read, treated, containerSeen, because, timeZone } = row;
	const told = (value: boolean | number | null) => (value === null ? "–" : words(value ? "sample.yes" : "sample.no"));
	const ofSeen: [string, Child][] = [
		[words("sample.reading"), read === null ? "–" : words("sample.mgPerL", { mgPerL: words.number(read) })],
		[words("visit.treated"), told(treated)],
		[words("visit.container"), told(containerSeen)],
	];
	return facts([
		[words("lead.state"), words("sample.isOutcome", { outcome: outcome ?? "open" })],
		...(visitedAtMs === null
			? []
			: [[words("visit.on"), wordsIn(words.language, timeZone).moment(Number(visitedAtMs))] as const]),
		[words("sample.auditor"), html`<bdi class="code">${byCode}</bdi>`],
		...(outcome === "seen" ? ofSeen : []),
		...(because === null ? [] : [[words("visit.because"), html`<bdi>${because}</bdi>`] as const]),
	]);
}

/** Keeps what was found by the same rules as the interface for programs; what isn't right is told at its field, and nothing is kept. */
export async function keepResult(parts: OfficeParts, visit: Visit): Promise<Answer> {
	const { store, results } = parts;
	const { form, words } = visit;
	const sampleId = await within(store, visit, "audit sample", visit.named["id"] as string);
	const row = await rowOf(store, visit, sampleId);
	const wanted = foundIn(form, row.timeZone);
	const parsed = foundAtVisit.safeParse(wanted);
	const faults = new Map<string, Child>(parsed.success ? [] : parsed.error.issues.map((issue) => faultOfIssue(issue, visit)));
	if (!(await isWithin(store, visit, "person", wanted.byPersonCode)))
		faults.set("other", words("draw.unknownPerson", { code: wanted.byPersonCode }));
	if (!parsed.success || faults.size > 0) return visitPage(parts, visit, faults);
	const { visitedAt, ...found } = parsed.data;
	try {
		await results.record(sampleId, row.householdCode, { ...found, visitedAtMs: visitedAt });
	} catch (error) {
		if (!(error instanceof InputError) || error.status === 404) throw error;
		const at = refusedFaults(error, visit);
		return at.size > 0 ? visitPage(parts, visit, at) : visitPage(parts, visit, NO_FAULTS, refusedBy(error));
	}
	return { seeOther: `/office/samples/${sampleId}?${new URLSearchParams({ is: "kept", of: row.householdCode })}` };
}

/** @throws InputError 404 where the sample has no visit to a household of that code, or it is another's */
async function rowOf(store: Store, visit: Visit, sampleId: string): Promise<Row> {
	const household = await within(store, visit, "household", visit.named["household"] as string);
	const [row] = await store.query<Row>(
		`SELECT h.code AS household_code, a.code AS area_code, a.time_zone, p.code AS auditor_code, s.drawn_at_ms, r.outcome, r.visited_at_ms,
		  b.code AS by_code, r.free_chlorine_mg_per_l, r.treated, r.container_seen, r.because
		 FROM audit_visit v JOIN audit_sample s ON s.id = v.sample_id JOIN household h ON h.id = v.household_id JOIN area a ON a.id = h.area_id
		 JOIN person p ON p.id = v.auditor_id LEFT JOIN audit_result r ON r.id = ${LAST_RESULT} LEFT JOIN person b ON b.id = r.by_person_id
		 WHERE v.sample_id = $1 AND h.code = $2`,
		[sampleId, household],
	);
	if (!row) throw new InputError("unknown-subject", "This sample has no visit to a household of that code.", { status: 404 });
	return row;
}

/** Auditors of the sample, and whoever leads within one's part. */
function peopleOf(store: Store, visit: Visit, sampleId: string): Promise<Visitable[]> {
	const people = inPartOf(visit, "person", "p");
	const place = `$${people.parameters.push(sampleId)}`;
	return store.query<Visitable>(
		`SELECT p.code, p.name FROM person p WHERE ${people.texts.join(" AND ")}
		 AND ((p.role <> 'volunteer' AND p.active) OR p.id IN (SELECT v.auditor_id FROM audit_visit v WHERE v.sample_id = ${place}))
		 ORDER BY p.code LIMIT ${MOST_PEOPLE}`,
		people.parameters,
	);
}

/** @returns what the form tells, as the interface for programs takes it; what was left empty is left out */
function foundIn(form: URLSearchParams, timeZone: string) {
	const text = (name: string) => (form.get(name) ?? "").trim();
	const told = (name: string) => ({ yes: true, no: false })[text(name)];
	return {
		outcome: text("outcome"),
		visitedAt: instantIn(text("on"), text("at"), timeZone),
		byPersonCode: text("other") || text("by"),
		freeChlorineMgPerL: numberIn(form, "reading"),
		...{ treated: told("treated"), containerSeen: told("container"), because: text("because") || undefined },
	};
}

/** @returns ISO 8601 in UTC of what clocks and calendars show there; nothing where they never show it */
function instantIn(date: string, time: string, timeZone: string): string | undefined {
	if (!/^\d{4}-\d\d-\d\d$/.test(date) || !/^\d\d:\d\d(:\d\d)?$/.test(time)) return undefined;
	try {
		return new Date(instantOfLocal(date, time, timeZone)).toISOString();
	} catch (error) {
		if (error instanceof RangeError) return undefined;
		throw error;
	}
}

/** The field of the form that each field of the interface is written in. */
const FIELD_OF: Readonly<Record<string, string>> = {
	outcome: "outcome",
	visitedAt: "on",
	byPersonCode: "other",
	freeChlorineMgPerL: "reading",
	treated: "reading",
	containerSeen: "reading",
	because: "because",
};

function faultOfIssue(issue: z.core.$ZodIssue, { words }: Visit): [string, Child] {
	const name = FIELD_OF[String(issue.path[0])] ?? "outcome";
	if (name === "outcome") return [name, words("visit.noOutcome")];
	if (name === "on") return [name, words("visit.noTime")];
	if (name === "because") return [name, words("visit.tooLong")];
	if (issue.code === "too_small" && name === "reading") return [name, words("draw.atLeast", { least: Number(issue.minimum) })];
	if (issue.code === "too_big" && name === "reading") return [name, words("draw.atMost", { most: Number(issue.maximum) })];
	return [name, words("draw.notNumber")];
}

/** What a service refused, at the field that it names, in the visitor's language. */
function refusedFaults({ code, problems }: InputError, { words }: Visit): Faults {
	return new Map(
		problems.flatMap(({ at }): [string, Child][] => {
			const name = FIELD_OF[at.slice(1)];
			const gist = name && GISTS[`${code} ${name}`];
			return gist ? [[name, words(gist)]] : [];
		}),
	);
}

const GISTS: Readonly<Record<string, PageText>> = {
	"invalid-input other": "visit.ownHousehold",
	"invalid-input on": "visit.beforeDrawn",
	"time-in-future on": "visit.ahead",
	"invalid-input reading": "visit.notSeen",
	"conflict because": "visit.sayWhy",
};
