import type { Estimate, Judged } from "../../audit/sample/judged.js";
import { html } from "../html.js";
import type { Shown, Visit } from "../page.js";
import { within } from "../part.js";
import { told } from "../refused.js";
import { facts, table } from "../tables.js";
import type { Words } from "../words.js";
import { shareWords } from "./figures.js";
import type { OfficeParts } from "./parts.js";
import { visitsOf } from "./sample-visits.js";

/** How a sample was drawn, what its visits found, and what is decided by it. */
export async function samplePage({ store, samples, findings }: OfficeParts, visit: Visit): Promise<Shown> {
	const { words, query } = visit;
	const id = await within(store, visit, "audit sample", visit.named["id"] as string);
	const sample = await samples.named(id);
	const judged = await findings.of(id);
	const { plan } = sample;
	const percent = (share: number) => words("jars.percent", { percent: words.number(share * 100, 1) });
	const main = html`${told(doneOf(query, plan.households, words))}${decision(judged, words)}
${facts([
	[words("map.areaName"), html`<bdi class="code">${sample.areaCode}</bdi>`],
	[words("checks.drawn"), words.moment(sample.drawnAtMs)],
	[words("checks.aim"), words("checks.isAim", { aim: sample.plan.aims.kind })],
	[
		words("sample.size"),
		words("office.of", { numerator: words.number(sample.plan.households), denominator: words.number(sample.frameHouseholds) }),
	],
	[
		words("draw.method"),
		html`${plan.clusters === null ? words("draw.simple") : words("sample.stages", { draws: plan.clusters, each: plan.households / plan.clusters, effect: words.number(plan.designEffect) })} <code dir="ltr">${sample.method}</code>`,
	],
	...(plan.aims.kind === "classify"
		? [
				[
					words("sample.shares"),
					words("sample.isShares", { target: percent(plan.aims.targetShare), lower: percent(plan.aims.lowerShare) }),
				] as const,
			]
		: []),
	[words("checks.visits"), words("sample.visits", { ...judged.visits })],
	[words("sample.seed"), html`<code dir="ltr">${sample.seed}</code>`],
	[
		words("sample.frame"),
		html`<code dir="ltr">${sample.frameSha256}</code> <a href="/audit-samples/${id}/frame">${words("sample.list")}</a>`,
	],
])}
<h2>${words("sample.found")}</h2>
${table(
	words("sample.foundTable"),
	[words("office.figure"), words("office.shareHead"), words("office.counted"), words("office.missing"), words("sample.interval")],
	judged.estimates.map((estimate) => [
		words("sample.what", { what: WHAT[estimate.what] }),
		shareWords(estimate, words),
		words("office.of", { numerator: words.number(estimate.numerator), denominator: words.number(estimate.denominator) }),
		words.number(estimate.missing),
		words("sample.isInterval", { interval: estimate.interval === "clusters, t" ? "clusters" : estimate.interval }),
	]),
)}
${agreement(judged, words)}
${await visitsOf(store, visit, id)}`;
	return { title: words("sample.title"), main, here: "/office/checks" };
}

/** What was done, where the address says so. */
function doneOf(query: URLSearchParams, households: number, words: Words): string | undefined {
	const of = query.get("of");
	if (query.get("is") === "drawn") return words("draw.done", { count: households });
	return query.get("is") === "kept" && of !== null ? words("visit.kept", { household: of.slice(0, 64) }) : undefined;
}

const WHAT: Readonly<Record<Estimate["what"], string>> = {
	"positive residual": "positive",
	"residual in the accepted range": "accepted",
	treated: "treated",
	"container seen": "container",
};

const CLASSES = { "reaches target": "reaches", "below target": "below", open: "open" } as const;

function decision({ verdict }: Judged, words: Words) {
	if (!verdict) return html`<p>${words("sample.noDecision")}</p>`;
	const { decisionRule, sampleSize, passed, missing, alpha, beta } = verdict;
	const percent = (risk: number) => words("jars.percent", { percent: words.number(risk * 100, 1) });
	const look = verdict.class === "reaches target" ? "told" : verdict.class === "below target" ? "stop" : "careful";
	return html`<div class="${look}"><p><strong>${words("sample.decision", { verdict: CLASSES[verdict.class] })}</strong></p>
<p>${words("sample.rule", { rule: words.number(decisionRule), size: words.number(sampleSize), passed: words.number(passed), missing: words.number(missing) })}</p>
<p>${words("sample.risks", { alpha: percent(alpha), beta: percent(beta) })}</p></div>`;
}

function agreement({ agreement: of }: Judged, words: Words) {
	if (!of) return html`<p>${words("sample.noPairs")}</p>`;
	const [[both = 0, onlyReported = 0] = [], [onlyRead = 0, neither = 0] = []] = of.table;
	const kappa =
		of.kappa === null
			? "–"
			: of.low === null || of.high === null
				? words.number(of.kappa)
				: words("sample.kappaInterval", {
						kappa: words.number(of.kappa),
						low: words.number(of.low),
						high: words.number(of.high),
					});
	return html`<h2>${words("sample.agreement")}</h2>${table(
		words("sample.agreementTable", { pairs: of.pairs }),
		[words("sample.reported"), words("sample.readYes"), words("sample.readNo")],
		[
			[words("sample.yes"), words.number(both), words.number(onlyReported)],
			[words("sample.no"), words.number(onlyRead), words.number(neither)],
		],
	)}<p>${words("sample.kappa", { kappa })}</p>`;
}
