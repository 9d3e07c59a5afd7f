import type { Proposal, ProposalSummary } from "../../assignment/proposals.js";
import { placeholders } from "../../store/sql.js";
import { type Html, html } from "../html.js";
import { ownForm } from "../layout.js";
import type { Answer, Shown, Visit } from "../page.js";
import { inPartOf, isWithin, within } from "../part.js";
import { orRefused, type Refused, refusal, told } from "../refused.js";
import { toldAgain } from "../said.js";
import { choices, table } from "../tables.js";
import type { Words } from "../words.js";
import { NOBODY } from "./map.js";
import type { SupervisorParts } from "./parts.js";

interface Line {
	readonly householdCode: string;
	readonly fromCode: string | null;
	readonly toCode: string | null;
	readonly fromKm: number | null;
	readonly toKm: number | null;
	readonly state: string;
}

const MOST_LINES = 200;

/** What a proposal would change, and what it would cost and spare; it is changed and accepted here. */
export async function proposalPage({ store, proposals }: SupervisorParts, visit: Visit, refused?: Refused): Promise<Shown> {
	const { words, query } = visit;
	const id = await within(store, visit, "assignment proposal", visit.named["id"] as string);
	const proposal = await proposals.named(id);
	const { state, summary } = proposal;
	const lines = await linesOf(store, visit, id);
	const done = Number(query.get("moved"));
	const main = html`${refusal(refused, words)}${told(query.has("moved") && Number.isSafeInteger(done) ? words("proposal.accepted", { count: done }) : query.has("changed") ? words("proposal.changed") : undefined)}
<p class="lead"><strong>${words("proposals.isState", { state })}</strong> · ${words.moment(proposal.askedAtMs)}</p>
${state === "solving" && html`<p>${words("proposal.solving")}</p><p><a class="button" href="/team/proposals/${id}">${words("proposal.look")}</a></p>`}
${summary && figures(summary, words)}
${summary && (await loads(store, summary, words))}
${
	summary &&
	html`<h2>${words("proposal.linesTitle")}</h2>${
		lines.length === 0
			? html`<p>${words("proposal.nothing")}</p>`
			: table(
					words("proposal.lines"),
					[words("map.household"), words("proposal.from"), words("proposal.to"), words("proposal.ways"), words("lead.state")],
					lines
						.slice(0, MOST_LINES)
						.map((line) => [
							html`<bdi class="code">${line.householdCode}</bdi>`,
							nameOf(line.fromCode, words),
							nameOf(line.toCode, words),
							html`${kmOf(line.fromKm, words)} → ${kmOf(line.toKm, words)}`,
							words("proposal.isLine", { state: line.state === "by hand" ? "hand" : line.state }),
						]),
				)
	}${lines.length > MOST_LINES && html`<p>${words("proposal.moreLines", { count: MOST_LINES })}</p>`}`
}
${state === "open" && (await decide(store, visit, proposal))}
${(state === "open" || state === "solving") && rejectForm(visit, proposal)}`;
	return { title: words("proposal.title"), main, here: "/team/proposals", ...(refused && { status: refused.status }) };
}

/** Does all that it says. Where somebody changed it since it was shown, nothing is done, and it is shown as it is now. */
export async function accept(parts: SupervisorParts, visit: Visit): Promise<Answer> {
	const id = await within(parts.store, visit, "assignment proposal", visit.named["id"] as string);
	const result = await orRefused(() => parts.handOvers.accept(id, visit.form.get("version") ?? ""));
	return "refused" in result
		? proposalPage(parts, visit, result.refused)
		: { seeOther: `/team/proposals/${id}?moved=${result.done.moved}` };
}

export async function reject(parts: SupervisorParts, visit: Visit): Promise<Answer> {
	const id = await within(parts.store, visit, "assignment proposal", visit.named["id"] as string);
	const result = await orRefused(() => parts.proposals.reject(id));
	return "refused" in result ? proposalPage(parts, visit, result.refused) : { seeOther: `/team/proposals/${id}` };
}

/** Gives one household of it to another volunteer, or leaves it as it is. */
export async function changeLine(parts: SupervisorParts, visit: Visit): Promise<Answer> {
	const { form, named } = visit;
	const id = await within(parts.store, visit, "assignment proposal", named["id"] as string);
	const household = (form.get("household") ?? "").trim();
	if (!(await isWithin(parts.store, visit, "household", household)))
		return proposalPage(parts, visit, { why: visit.words("proposal.noHousehold"), status: 422 });
	const to = form.get("to") ?? NOBODY;
	const toCode = to === NOBODY ? null : await within(parts.store, visit, "person", to);
	const result = await orRefused(() => parts.decisions.changeLine(id, household, toCode, form.get("version") ?? ""));
	return "refused" in result ? proposalPage(parts, visit, result.refused) : { seeOther: `/team/proposals/${id}?changed=1` };
}

async function decide(store: SupervisorParts["store"], visit: Visit, { id, version, summary }: Proposal): Promise<Html> {
	const { words, visitor, form } = visit;
	const hidden = html`${ownForm(visitor)}<input type="hidden" name="version" value="${version}">`;
	const codes = await codesOf(store, summary?.loads.map(({ volunteerId }) => volunteerId) ?? []);
	const people = [...codes.values()].sort().map((code) => ({ value: code, words: code }));
	return html`<h2>${words("proposal.change")}</h2><form class="filters" method="post" action="/team/proposals/${id}/lines">${hidden}
<p class="field"><label for="household">${words("map.household")}</label><input type="text" id="household" name="household" dir="ltr" autocomplete="off" required maxlength="64" value="${form.get("household") ?? ""}"></p>
${choices("to", "to", words("proposal.to"), [...people, { value: NOBODY, words: words("proposal.asItIs") }], form.get("to"))}
<button class="quiet">${words("proposal.doChange")}</button></form>
<h2>${words("proposal.decide")}</h2><p>${words("proposal.decideWhat")}</p>
<form method="post" action="/team/proposals/${id}/accept">${hidden}<button class="send">${words("proposal.accept")}</button></form>`;
}

function rejectForm({ words, visitor }: Visit, { id }: Proposal): Html {
	return html`<form method="post" action="/team/proposals/${id}/reject">${ownForm(visitor)}<button class="quiet">${words("proposal.reject")}</button></form>`;
}

function figures({ today, proposed, leftOver, remedy, remark, by }: ProposalSummary, words: Words): Html {
	const km = (value: number) => words("map.km", { km: words.number(value, 1) });
	return html`${table(
		words("proposal.figures"),
		[words("proposal.figure"), words("proposal.today"), words("proposal.proposed")],
		[
			[words("proposal.distance"), km(today.distanceKm), km(proposed.distanceKm)],
			[words("proposal.moves"), "–", words.number(proposed.moves)],
			[words("proposal.without"), words.number(today.withoutVolunteer), words.number(proposed.withoutVolunteer)],
			[words("proposal.otherLanguage"), words.number(today.otherLanguage), words.number(proposed.otherLanguage)],
		],
	)}<p>${words("proposal.by", { by })}${remark && html` ${toldAgain(remark, words)}`}</p>
${leftOver > 0 && html`<div class="careful"><p><strong>${words("proposal.leftOver", { count: leftOver })}</strong></p>${remedy && html`<p>${toldAgain(remedy, words)}</p>`}</div>`}`;
}

async function loads(store: SupervisorParts["store"], { loads: all }: ProposalSummary, words: Words): Promise<Html> {
	const codes = await codesOf(
		store,
		all.map(({ volunteerId }) => volunteerId),
	);
	const heaviest = [...all].sort((a, b) => b.households - a.households).slice(0, MOST_LINES);
	return html`<h2>${words("proposal.loadsTitle")}</h2>${table(
		words("proposal.loads"),
		[
			words("lead.volunteer"),
			words("proposal.today"),
			words("proposal.proposed"),
			words("proposal.most"),
			words("proposal.hours"),
			words("proposal.ways"),
		],
		heaviest.map((load) => [
			html`<bdi class="code">${codes.get(load.volunteerId) ?? load.volunteerId}</bdi>`,
			words.number(load.householdsToday),
			words.number(load.households),
			words.number(load.mostHouseholds),
			words.number(load.hoursPerWeek, 1),
			words("map.km", { km: words.number(load.distanceKm, 1) }),
		]),
	)}`;
}

/** Those that would change hands and those that are left over; the others stay as they are. */
function linesOf(store: SupervisorParts["store"], visit: Visit, id: string): Promise<Line[]> {
	const conditions = inPartOf(visit, "household", "h");
	conditions.add((place) => `l.proposal_id = ${place(id)}`);
	return store.query<Line>(
		`SELECT h.code AS household_code, f.code AS from_code, t.code AS to_code, l.from_km, l.to_km, l.state FROM assignment_proposal_line l
		 JOIN household h ON h.id = l.household_id LEFT JOIN person f ON f.id = l.from_id LEFT JOIN person t ON t.id = l.to_id
		 WHERE ${conditions.texts.join(" AND ")} AND (l.to_id IS DISTINCT FROM l.from_id OR l.state IN ('by hand', 'left over')) ORDER BY h.code LIMIT ${MOST_LINES + 1}`,
		conditions.parameters,
	);
}

async function codesOf(store: SupervisorParts["store"], ids: readonly string[]): Promise<ReadonlyMap<string, string>> {
	const some = ids.slice(0, 500);
	if (some.length === 0) return new Map();
	const rows = await store.query<{ id: string; code: string }>(
		`SELECT id, code FROM person WHERE id IN (${placeholders(some.length)})`,
		some,
	);
	return new Map(rows.map(({ id, code }) => [id, code]));
}

function nameOf(code: string | null, words: Words) {
	return code === null ? words("lead.nobody") : html`<bdi class="code">${code}</bdi>`;
}

function kmOf(km: number | null, words: Words): string {
	return km === null ? "–" : words("map.km", { km: words.number(km, 1) });
}
