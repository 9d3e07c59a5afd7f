import type { SamplePlan } from "../../audit/sample/plan.js";
import { BEGINNING } from "../../ledger/chain.js";
import { headText } from "../../ledger/heads.js";
import { headOf } from "../../ledger/sealer.js";
import { verifyLedger } from "../../ledger/verify.js";
import { html } from "../html.js";
import { ownForm } from "../layout.js";
import type { Answer, Shown, Visit } from "../page.js";
import { callerOf, inPartOf } from "../part.js";
import { orRefused, type Refused, refusal, told } from "../refused.js";
import { toldAgain } from "../said.js";
import { facts, table } from "../tables.js";
import type { Words } from "../words.js";
import type { OfficeParts } from "./parts.js";

/** A page is to be there soon; the command line holds the whole of a long ledger against its chain. */
const ENTRIES = 20_000;
const MOST_SHOWN = 50;

interface SampleRow {
	readonly id: string;
	readonly areaCode: string;
	readonly areaName: string;
	readonly drawnAtMs: number;
	readonly plan: string;
	readonly visits: number;
	readonly made: number;
}

/** Whether the ledger is whole, and what independent samples say. */
export async function checksPage(parts: OfficeParts, visit: Visit, refused?: Refused): Promise<Shown> {
	const { words, visitor, query } = visit;
	const samples = await samplesOf(parts, visit);
	const given = (await parts.heads.given()).slice(0, 10);
	const main = html`${refusal(refused, words)}${told(query.has("given") ? words("checks.headGiven") : undefined)}
<section><h2>${words("checks.ledger")}</h2>${await ledgerSays(parts, words)}
<form method="post" action="/office/checks/head">${ownForm(visitor)}<p>${words("checks.headWhat")}</p><button class="quiet">${words("checks.giveHead")}</button></form>
${
	given.length > 0 &&
	table(
		words("checks.heads"),
		[words("checks.givenAt"), words("checks.head")],
		given.map((head) => [words.moment(head.givenAtMs), html`<code dir="ltr">${headText(head)}</code>`]),
	)
}</section>
<section><h2>${words("checks.samples")}</h2><p><a class="button" href="/office/samples">${words("draw.title")}</a></p>
${
	samples.length === 0
		? html`<p>${words("checks.noSamples")}</p>`
		: table(
				words("checks.samplesTable"),
				[words("checks.drawn"), words("map.areaName"), words("checks.aim"), words("checks.visits")],
				samples.map(({ id, areaCode, areaName, drawnAtMs, plan, visits, made }) => [
					html`<a href="/office/samples/${id}">${words.moment(Number(drawnAtMs))}</a>`,
					html`<bdi>${areaName}</bdi> <bdi class="code">${areaCode}</bdi>`,
					words("checks.isAim", { aim: (JSON.parse(plan) as SamplePlan).aims.kind }),
					words("office.of", { numerator: words.number(Number(made)), denominator: words.number(Number(visits)) }),
				]),
			)
}</section>`;
	return { title: words("checks.title"), main, here: "/office/checks", ...(refused && { status: refused.status }) };
}

/** The end of the chain is noted, to be printed and kept where nobody who can change the database can change it too. */
export async function giveHead(parts: OfficeParts, visit: Visit): Promise<Answer> {
	const result = await orRefused(() => parts.heads.give("printed", callerOf(visit).actor));
	return "refused" in result ? checksPage(parts, visit, result.refused) : { seeOther: "/office/checks?given=1" };
}

async function ledgerSays({ store }: OfficeParts, words: Words) {
	const { position } = await headOf(store);
	const from = Math.max(BEGINNING.position + 1, position - ENTRIES + 1);
	const { entries, head, waiting, findings, more, anchors } = await verifyLedger(store, from);
	const whole = findings.length === 0;
	return html`<p class="${whole ? "told" : "stop"}"><strong>${words(whole ? "checks.whole" : "checks.broken", { count: findings.length + more })}</strong></p>
${facts([
	[
		words("checks.entries"),
		entries === 0
			? words.number(0)
			: words("checks.fromTo", { entries: words.number(entries), from: words.number(from), to: words.number(head.position) }),
	],
	[words("checks.waiting"), words.number(waiting.entries)],
	[words("checks.anchors"), words.number(anchors)],
])}
${
	!whole &&
	table(
		words("checks.findings"),
		[words("checks.position"), words("checks.what")],
		findings
			.slice(0, MOST_SHOWN)
			.map(({ position: at, message }) => [at === null ? "–" : words.number(at), toldAgain(message, words)]),
	)
}
<p class="small">${withCommands(words("checks.ledgerWhat"))}</p>`;
}

/** What stands between grave accents is typed as it is. */
function withCommands(text: string) {
	return text.split("`").map((part, i) => (i % 2 === 0 ? part : html`<code dir="ltr">${part}</code>`));
}

function samplesOf({ store }: OfficeParts, visit: Visit): Promise<SampleRow[]> {
	const { texts, parameters } = inPartOf(visit, "audit sample", "s");
	return store.query<SampleRow>(
		`SELECT s.id, a.code AS area_code, a.name AS area_name, s.drawn_at_ms, s.plan,
			(SELECT COUNT(*) FROM audit_visit v WHERE v.sample_id = s.id) AS visits,
			(SELECT COUNT(*) FROM audit_visit v WHERE v.sample_id = s.id AND EXISTS (SELECT 1 FROM audit_result r WHERE r.visit_id = v.id)) AS made
		 FROM audit_sample s JOIN area a ON a.id = s.area_id WHERE ${texts.join(" AND ")} ORDER BY s.drawn_at_ms DESC, s.id LIMIT ${MOST_SHOWN}`,
		parameters,
	);
}
