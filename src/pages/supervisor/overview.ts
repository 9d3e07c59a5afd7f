import { currentPolicy } from "../../programme/policy.js";
import type { Store } from "../../store/store.js";
import { DAY_MS } from "../../time/clock.js";
import { type Child, html } from "../html.js";
import { openIncidents } from "../incidents/list.js";
import { ownForm } from "../layout.js";
import type { Answer, Shown, Visit } from "../page.js";
import { callerOf, inPartOf, within } from "../part.js";
import { orRefused, type Refused, refusal, told } from "../refused.js";
import { table, tiles } from "../tables.js";
import { titleOf } from "../volunteer/task-card.js";
import type { Words } from "../words.js";
import type { SupervisorParts } from "./parts.js";
import { isOverloaded, type PersonLoad, peopleLoads } from "./people-load.js";

interface LateTask {
	readonly id: string;
	readonly code: string;
	readonly kind: string;
	readonly brief: string;
	readonly dueAtMs: number;
	readonly acknowledgedAtMs: number | null;
	readonly personCode: string | null;
	readonly personName: string | null;
}

const MOST_LATE = 50;
const MOST_SHOWN = 100;
const FAILED_DAYS = 7;

/** What is late and who carries too much, before anything else. */
export async function overviewPage(parts: SupervisorParts, visit: Visit, refused?: Refused): Promise<Shown> {
	const { store } = parts;
	const { words, nowMs, query } = visit;
	const incidents = await openIncidents(parts, visit);
	const policy = await currentPolicy(store);
	const people = await peopleLoads(store, visit, policy);
	const [late, lateInAll] = await lateTasks(store, visit);
	const alone = await countOf(store, visit, "household", "h", "h.volunteer_id IS NULL", []);
	const failed = await countOf(store, visit, "message", "m", "m.state = 'failed' AND m.created_at_ms >=", [
		nowMs - FAILED_DAYS * DAY_MS,
	]);
	const heavy = people.filter(isOverloaded);
	const main = html`${refusal(refused, words)}${told(query.get("is") === "seen" ? words("lead.seenTold") : undefined)}
${tiles([
	{ figure: words.number(lateInAll), words: words("lead.late"), to: "#late", isBad: lateInAll > 0 },
	{ figure: words.number(heavy.length), words: words("lead.overloaded"), to: "#people", isBad: heavy.length > 0 },
	{ figure: words.number(alone), words: words("lead.alone"), to: "/team/map?of=-", isBad: alone > 0 },
	{
		figure: words.number(incidents),
		words: words("lead.incidents", { count: incidents }),
		to: "/team/incidents",
		isBad: incidents > 0,
	},
	{ figure: words.number(failed), words: words("lead.failed", { days: FAILED_DAYS }), isBad: failed > 0 },
])}
<section id="late"><h2>${words("lead.lateTitle")}</h2>
${
	late.length === 0
		? html`<p>${words("lead.nothingLate")}</p>`
		: table(
				words("lead.lateTable"),
				[words("lead.task"), words("lead.who"), words("lead.dueSince"), words("lead.seen")],
				late.map((task) => lateRow(task, visit)),
			)
}${lateInAll > late.length && html`<p>${words("lead.more", { count: lateInAll - late.length })}</p>`}</section>
<section id="people"><h2>${words("lead.peopleTitle")}</h2>
<p>${words("lead.peopleWhat")}</p>
${table(
	words("lead.peopleTable"),
	[words("lead.volunteer"), words("lead.load"), words("lead.openTasks"), words("lead.lateTasks"), words("lead.state")],
	people.slice(0, MOST_SHOWN).map((person) => personRow(person, words)),
)}${people.length > MOST_SHOWN && html`<p>${words("lead.more", { count: people.length - MOST_SHOWN })}</p>`}</section>`;
	return { title: words("lead.title"), main, here: "/team", ...(refused && { status: refused.status }) };
}

/** Somebody sees to a late task: nobody further up is told. */
export async function seeTo(parts: SupervisorParts, visit: Visit): Promise<Answer> {
	const id = visit.named["id"] as string;
	const [task] = await parts.store.query<{ code: string }>("SELECT code FROM task WHERE id = $1", [id.slice(0, 64)]);
	// Of the tasks that have had a code, the open one is looked at; none but that one can be acknowledged.
	await within(parts.store, visit, "task", task?.code ?? "");
	const result = await orRefused(() => parts.taskHands.acknowledge(id, callerOf(visit).personId));
	return "refused" in result ? overviewPage(parts, visit, result.refused) : { seeOther: "/team?is=seen" };
}

export function personLink({ code, name }: { readonly code: string; readonly name: string | null }): Child {
	return html`<a href="/team/people/${encodeURIComponent(code)}"><bdi>${name ?? code}</bdi></a> <bdi class="code">${code}</bdi>`;
}

function lateRow(task: LateTask, visit: Visit): Child[] {
	const { words, visitor, nowMs } = visit;
	const { id, code, kind, brief, dueAtMs, acknowledgedAtMs, personCode, personName } = task;
	const title = titleOf({ kind, brief: { ...(JSON.parse(brief) as Record<string, string | number>), code } }, words);
	const days = Math.max(0, Math.floor((nowMs - dueAtMs) / DAY_MS));
	return [
		html`${title} <bdi class="code">${code}</bdi>`,
		personCode === null ? words("lead.nobody") : personLink({ code: personCode, name: personName }),
		words("lead.since", { day: words.day(dueAtMs), ago: words("lead.days", { days }) }),
		acknowledgedAtMs === null
			? html`<form method="post" action="/team/tasks/${id}/seen">${ownForm(visitor)}<button class="quiet">${words("lead.see")}<span class="unread"> ${title} ${code}</span></button></form>`
			: words.moment(acknowledgedAtMs),
	];
}

function personRow(person: PersonLoad, words: Words): Child[] {
	const { households, mostHouseholds, openTasks, lateTasks, isActive, reason } = person;
	const state = isActive ? (isOverloaded(person) ? "tooMuch" : "atWork") : (reason ?? "left");
	return [
		personLink(person),
		html`<span class="load"><meter min="0" max="${Math.max(mostHouseholds, households, 1)}" value="${households}" aria-hidden="true"></meter> ${words("lead.ofMost", { households, most: mostHouseholds })}</span>`,
		words.number(openTasks),
		lateTasks > 0 ? html`<strong class="wrong">${words.number(lateTasks)}</strong>` : words.number(0),
		state === "tooMuch" || (!isActive && households > 0)
			? html`<strong class="wrong">${words("lead.isState", { state })}</strong>`
			: words("lead.isState", { state }),
	];
}

async function lateTasks(store: Store, visit: Visit): Promise<[LateTask[], number]> {
	const { texts, parameters } = inPartOf(visit, "task", "t");
	const where = `t.state = 'open' AND t.ladder_step > 0 AND ${texts.join(" AND ")}`;
	const late = await store.query<LateTask>(
		`SELECT t.id, t.code, t.kind, t.brief, t.due_at_ms, t.acknowledged_at_ms, p.code AS person_code, p.name AS person_name
		 FROM task t LEFT JOIN person p ON p.id = t.assignee_id WHERE ${where}
		 ORDER BY CASE WHEN t.acknowledged_at_ms IS NULL THEN 0 ELSE 1 END, t.due_at_ms, t.id LIMIT ${MOST_LATE}`,
		parameters,
	);
	const [all] = await store.query<{ number: number }>(`SELECT COUNT(*) AS number FROM task t WHERE ${where}`, parameters);
	return [late, Number(all?.number ?? 0)];
}

async function countOf(
	store: Store,
	visit: Visit,
	kind: "household" | "message",
	x: string,
	condition: string,
	values: readonly number[],
): Promise<number> {
	const { texts, parameters } = inPartOf(visit, kind, x);
	const places = values.map((value) => `$${parameters.push(value)}`).join("");
	const [row] = await store.query<{ number: number }>(
		`SELECT COUNT(*) AS number FROM ${kind} ${x} WHERE ${condition} ${places} AND ${texts.join(" AND ")}`,
		parameters,
	);
	return Number(row?.number ?? 0);
}
