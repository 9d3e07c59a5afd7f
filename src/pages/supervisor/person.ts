import type { HandedOver } from "../../duties/her-work.js";
import { currentPolicy } from "../../programme/policy.js";
import { localDateOf } from "../../time/local.js";
import type { Faults } from "../fields.js";
import { type Child, html } from "../html.js";
import { ownForm } from "../layout.js";
import type { Answer, Shown, Visit } from "../page.js";
import { within } from "../part.js";
import { orRefused, type Refused, refusal, told } from "../refused.js";
import { choices, facts, table } from "../tables.js";
import { titleOf } from "../volunteer/task-card.js";
import type { Words } from "../words.js";
import { capacityForm } from "./capacity-form.js";
import type { SupervisorParts } from "./parts.js";
import { type PersonLoad, peopleLoads } from "./people-load.js";

interface OpenTask {
	readonly code: string;
	readonly kind: string;
	readonly brief: string;
	readonly dueAtMs: number;
	readonly ladderStep: number;
}

interface Jar {
	readonly code: string;
	readonly heldMl: number;
	readonly state: string;
}

interface Absence {
	readonly fromOn: string;
	readonly untilOn: string | null;
	readonly beganAtMs: number | null;
	readonly toCode: string | null;
}

const REASONS = ["ill", "on leave", "left"] as const;
const MOST_TASKS = 100;

/** One volunteer: what she has, and who takes it over when she can't. */
export async function personPage(parts: SupervisorParts, visit: Visit, refused?: Refused, faults?: Faults): Promise<Shown> {
	const { store } = parts;
	const { words, named, query, nowMs } = visit;
	const code = await within(store, visit, "person", named["code"] as string);
	const people = await peopleLoads(store, visit, await currentPolicy(store));
	const person = people.find((one) => one.code === code);
	if (!person) return { title: words("person.notVolunteer"), main: html`<p>${words("person.notVolunteer")}</p>`, status: 404 };
	const [tasks, jars, [absence]] = await Promise.all([
		store.query<OpenTask>(
			`SELECT code, kind, brief, due_at_ms, ladder_step FROM task WHERE assignee_id = $1 AND state = 'open' ORDER BY due_at_ms, id LIMIT ${MOST_TASKS}`,
			[person.id],
		),
		store.query<Jar>(
			"SELECT code, state, COALESCE(held_ul / 1000.0, volume_l * 1000) AS held_ml FROM batch WHERE keeper_id = $1 AND state IN ('in use', 'weak') ORDER BY code",
			[person.id],
		),
		store.query<Absence>(
			`SELECT x.from_on, x.until_on, x.began_at_ms, t.code AS to_code FROM absence x LEFT JOIN person t ON t.id = x.to_id
			 WHERE x.person_id = $1 AND x.returned_at_ms IS NULL`,
			[person.id],
		),
	]);
	const said = await parts.capacities.of(code);
	const main = html`${refusal(refused, words)}${told(toldOf(query, words))}
${facts([
	[words("lead.volunteer"), html`<bdi class="code">${code}</bdi>`],
	[
		words("lead.load"),
		html`${words("lead.ofMost", { households: person.households, most: person.mostHouseholds })} <a href="/team/map?of=${encodeURIComponent(code)}">${words("person.onMap")}</a>`,
	],
	[words("lead.state"), stateOf(person, absence, words)],
])}
<h2>${words("lead.openTasks")}</h2>
${
	tasks.length === 0
		? html`<p>${words("person.noTasks")}</p>`
		: table(
				words("person.tasksTable"),
				[words("lead.task"), words("lead.dueSince"), words("lead.state")],
				tasks.map(({ kind, brief, dueAtMs, ladderStep, ...task }) => [
					html`${titleOf({ kind, brief: { ...(JSON.parse(brief) as Record<string, string>), code: task.code } }, words)} <bdi class="code">${task.code}</bdi>`,
					words.day(dueAtMs),
					ladderStep > 0 ? html`<strong class="wrong">${words("lead.isLate")}</strong>` : words("lead.inTime"),
				]),
			)
}
<h2>${words("person.jars")}</h2>
${
	jars.length === 0
		? html`<p>${words("jars.none")}</p>`
		: table(
				words("person.jarsTable"),
				[words("jars.jar"), words("jars.held")],
				jars.map((jar) => [
					html`<a href="/team/jars/${encodeURIComponent(jar.code)}"><bdi class="code">${jar.code}</bdi></a>`,
					words("stock.ml", { ml: words.number(Number(jar.heldMl), 0) }),
				]),
			)
}
${absence ? returnForm(visit, person, absence) : leaveForm(visit, person, people, localDateOf(nowMs, visit.visitor.timeZone))}
${capacityForm(visit, code, said, faults)}`;
	const status = refused?.status ?? (faults && 422);
	return { title: person.name, main, here: "/team", ...(status && { status }) };
}

/** What was done, where the address says so. */
function toldOf(query: URLSearchParams, words: Words): string | undefined {
	const done = query.get("handed")?.split(".").map(Number);
	if (done?.length === 4 && done.every(Number.isSafeInteger)) {
		const [households = 0, jars = 0, generators = 0, tasks = 0] = done;
		return words("person.handedOver", { households, jars, generators, tasks });
	}
	if (query.has("noted")) return words("person.noted");
	return query.has("saved") ? words("capacity.saved") : undefined;
}

function stateOf({ isActive, reason }: PersonLoad, absence: Absence | undefined, words: Words): Child {
	const state = words("lead.isState", { state: isActive ? "atWork" : (reason ?? "left") });
	if (!absence) return state;
	const { fromOn, untilOn, beganAtMs, toCode } = absence;
	const until = untilOn === null ? "" : ` ${words("person.awayUntil", { until: untilOn })}`;
	if (beganAtMs !== null) return html`${state} ${words("person.away", { from: fromOn })}${until}`;
	const to =
		toCode === null ? words("person.willBeProposed") : html`${words("person.willGoTo")} <bdi class="code">${toCode}</bdi>`;
	return html`${state}. ${words("person.willBeAway", { from: fromOn })}${until}. ${to}`;
}

/** She is ill, on leave or has left: to a named person at once, or proposed among those who are left. */
export async function leave(parts: SupervisorParts, visit: Visit): Promise<Answer> {
	const { form, words, named } = visit;
	const code = await within(parts.store, visit, "person", named["code"] as string);
	const reason = REASONS.find((one) => one === form.get("reason"));
	const dates = { fromOn: dateIn(form.get("from")), untilOn: dateIn(form.get("until")) };
	if (!reason || dates.fromOn === null || dates.untilOn === null)
		return personPage(parts, visit, { why: words("person.wrongDate"), status: 422 });
	const to = form.get("to") ?? "";
	const toCode = to === "" ? undefined : await within(parts.store, visit, "person", to);
	const { fromOn, untilOn } = dates;
	const result = await orRefused(() => parts.handOvers.leave(code, { reason, fromOn, untilOn, toCode }));
	if ("refused" in result) return personPage(parts, visit, result.refused);
	const { handedOver, proposal, plannedFor } = result.done;
	if (proposal) return { seeOther: `/team/proposals/${proposal.id}` };
	const at = `/team/people/${encodeURIComponent(code)}`;
	return { seeOther: plannedFor !== null ? `${at}?noted=1` : `${at}?handed=${figuresOf(handedOver)}` };
}

export async function comeBack(parts: SupervisorParts, visit: Visit): Promise<Answer> {
	const code = await within(parts.store, visit, "person", visit.named["code"] as string);
	const result = await orRefused(() => parts.handOvers.comeBack(code, visit.form.get("takeBack") === "yes"));
	if ("refused" in result) return personPage(parts, visit, result.refused);
	return { seeOther: `/team/people/${encodeURIComponent(code)}?handed=${figuresOf(result.done)}` };
}

const figuresOf = ({ households, jars, generators, tasks }: HandedOver): string =>
	[households, jars, generators, tasks].join(".");

function leaveForm({ words, visitor, form }: Visit, person: PersonLoad, people: readonly PersonLoad[], today: string) {
	const others = people
		.filter(({ code, isActive }) => isActive && code !== person.code)
		.sort((a, b) => (a.code < b.code ? -1 : 1));
	return html`<section><h2>${words("person.handOver")}</h2><p>${words("person.handOverWhat")}</p>
<form method="post" action="/team/people/${encodeURIComponent(person.code)}/leave">${ownForm(visitor)}
${choices(
	"reason",
	"reason",
	words("person.reason"),
	REASONS.map((reason) => ({ value: reason, words: words("person.isReason", { reason }) })),
	form.get("reason"),
)}
<p class="field"><label for="from">${words("person.from")}</label><input type="date" id="from" name="from" value="${form.get("from") ?? today}"></p>
<p class="field"><label for="until">${words("person.until")}</label><input type="date" id="until" name="until" value="${form.get("until") ?? ""}"></p>
${choices("to", "to", words("person.to"), [{ value: "", words: words("person.propose") }, ...others.map(({ code, name, households, mostHouseholds }) => ({ value: code, words: words("map.candidate", { who: words("lead.named", { name, code }), households, most: mostHouseholds }) }))], form.get("to"))}
<button>${words("person.doHandOver")}</button></form></section>`;
}

function returnForm({ words, visitor }: Visit, { code }: PersonLoad, { beganAtMs }: Absence) {
	const action = `/team/people/${encodeURIComponent(code)}/return`;
	if (beganAtMs === null)
		return html`<section><h2>${words("person.stays")}</h2><p>${words("person.staysWhat")}</p>
<form method="post" action="${action}">${ownForm(visitor)}<button>${words("person.doStay")}</button></form></section>`;
	return html`<section><h2>${words("person.return")}</h2>
<form method="post" action="${action}">${ownForm(visitor)}
<label class="choice"><input type="checkbox" name="takeBack" value="yes" checked>${words("person.takeBack")}</label>
<button>${words("person.doReturn")}</button></form></section>`;
}

/** @returns a local date; undefined where none was given, null where it is none */
function dateIn(given: string | null): string | undefined | null {
	if (given === null || given === "") return undefined;
	return /^\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])$/.test(given) && !Number.isNaN(Date.parse(given)) ? given : null;
}
