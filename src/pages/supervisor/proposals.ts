import type { ProposalState } from "../../assignment/rows.js";
import { html } from "../html.js";
import { ownForm } from "../layout.js";
import type { Answer, Shown, Visit } from "../page.js";
import { inPartOf, ownAreas, within } from "../part.js";
import { orRefused, type Refused, refusal } from "../refused.js";
import { choices, table } from "../tables.js";
import type { SupervisorParts } from "./parts.js";

interface Row {
	readonly id: string;
	readonly areaName: string;
	readonly areaCode: string;
	readonly awayName: string | null;
	readonly state: ProposalState;
	readonly askedAtMs: number;
	readonly deadlineMs: number;
}

const MOST = 50;

/** What was proposed of who looks after whom, and the way to ask for another proposal. */
export async function proposalsPage({ store }: SupervisorParts, visit: Visit, refused?: Refused): Promise<Shown> {
	const { words, visitor, nowMs } = visit;
	const { texts, parameters } = inPartOf(visit, "assignment proposal", "x");
	const rows = await store.query<Row>(
		`SELECT x.id, a.name AS area_name, a.code AS area_code, w.name AS away_name, x.state, x.asked_at_ms, x.deadline_ms
		 FROM assignment_proposal x JOIN area a ON a.id = x.area_id LEFT JOIN absence y ON y.id = x.absence_id LEFT JOIN person w ON w.id = y.person_id
		 WHERE ${texts.join(" AND ")} ORDER BY x.asked_at_ms DESC, x.id LIMIT ${MOST}`,
		parameters,
	);
	const areas = await ownAreas(store, visit);
	const main = html`${refusal(refused, words)}<p>${words("proposals.what")}</p>
<form class="filters" method="post" action="/team/proposals">${ownForm(visitor)}
${choices(
	"area",
	"area",
	words("map.area"),
	areas.map(({ code, name }) => ({ value: code, words: words("lead.named", { name, code }) })),
	visit.form.get("area"),
)}
<button>${words("proposals.ask")}</button></form>
${
	rows.length === 0
		? html`<p>${words("proposals.none")}</p>`
		: table(
				words("proposals.table"),
				[words("proposals.asked"), words("map.areaName"), words("proposals.for"), words("lead.state")],
				rows.map(({ id, areaName, areaCode, awayName, state, askedAtMs, deadlineMs }) => [
					html`<a href="/team/proposals/${id}">${words.moment(askedAtMs)}</a>`,
					html`<bdi>${areaName}</bdi> <bdi class="code">${areaCode}</bdi>`,
					awayName === null ? words("proposals.forAll") : html`<bdi>${awayName}</bdi>`,
					words("proposals.isState", { state: state === "solving" && nowMs > deadlineMs ? "stopped" : state }),
				]),
			)
}`;
	return { title: words("proposals.title"), main, here: "/team/proposals", ...(refused && { status: refused.status }) };
}

export async function askForProposal(parts: SupervisorParts, visit: Visit): Promise<Answer> {
	const code = await within(parts.store, visit, "area", visit.form.get("area") ?? "");
	const result = await orRefused(() => parts.proposals.ask(code));
	return "refused" in result ? proposalsPage(parts, visit, result.refused) : { seeOther: `/team/proposals/${result.done.id}` };
}
