import { type Faults, faultOf, field, oneOf } from "../fields.js";
import { type Html, html } from "../html.js";
import { ownForm } from "../layout.js";
import type { Visit } from "../page.js";
import type { OwnArea } from "../part.js";
import { choices } from "../tables.js";
import type { PageText } from "../texts.js";

/** Somebody of one's part who may visit: whoever leads, or looks on. */
export interface Visitable {
	readonly code: string;
	readonly name: string;
}

/** Fields in per cent, each with what stands in it at first. */
const SHARES = {
	classify: [
		["target", "draw.target", "80"],
		["lower", "draw.lower", "50"],
		["alpha", "draw.alpha", "10"],
		["beta", "draw.beta", "10"],
	],
	estimate: [
		["halfWidth", "draw.halfWidth", "10"],
		["expected", "draw.expected", "50"],
		["confidence", "draw.confidence", "95"],
	],
} as const satisfies Record<string, readonly (readonly [string, PageText, string])[]>;

/** What a sample is to be drawn for and how; what is wrong stands at its field, and everything else stays as it was written. */
export function drawForm(visit: Visit, areas: readonly OwnArea[], people: readonly Visitable[], faults: Faults): Html {
	const { words, visitor, form } = visit;
	const isAgain = form.has("aim");
	const written = (name: string, first = "") => (isAgain ? form.get(name) : first);
	const number = (name: string, label: PageText, first: string) =>
		field({ name, label: words(label), value: written(name, first), isNumber: true }, faults);
	const shares = (aim: keyof typeof SHARES) =>
		html`<div class="filters">${SHARES[aim].map(([name, label, first]) => number(name, label, first))}</div>`;
	const picked = new Set(form.getAll("auditor"));
	return html`<form method="post" action="/office/samples">${ownForm(visitor)}
${choices(
	"area",
	"area",
	words("map.area"),
	areas.map(({ code, name }) => ({ value: code, words: `${name} (${code})` })),
	written("area"),
)}${faultOf("area", faults)}
<fieldset><legend>${words("draw.aim")}</legend>${faultOf("aim", faults)}${oneOf(
		"aim",
		[
			{ value: "classify", words: words("draw.classify"), more: shares("classify") },
			{ value: "estimate", words: words("draw.estimate"), more: shares("estimate") },
			{ value: "size", words: words("draw.size"), more: number("households", "draw.households", "30") },
		],
		written("aim", "classify") ?? "",
	)}</fieldset>
<fieldset><legend>${words("draw.method")}</legend>${oneOf(
		"method",
		[
			{ value: "simple", words: words("draw.simple") },
			{
				value: "two stage",
				words: words("draw.twoStage"),
				more: html`<div class="filters">${number("perCluster", "draw.perCluster", "7")}${field({ name: "correlation", label: words("draw.correlation"), value: written("correlation", "0.167"), isNumber: true, hint: words("draw.correlationWhat") }, faults)}</div>`,
			},
		],
		written("method", "simple") ?? "",
	)}</fieldset>
<fieldset><legend>${words("draw.auditors")}</legend><p class="hint">${words("draw.auditorsWhat")}</p>${faultOf("auditors", faults)}
${people.map(
	({ code, name }) =>
		html`<label class="choice"><input type="checkbox" name="auditor" value="${code}"${picked.has(code) && html` checked`}><span><bdi>${name}</bdi> <bdi class="code">${code}</bdi></span></label>`,
)}${field({ name: "others", label: words("draw.others"), value: written("others") }, faults)}</fieldset>
${field({ name: "seed", label: words("sample.seed"), value: written("seed"), hint: words("draw.seedWhat") }, faults)}
<fieldset><legend>${words("draw.reported")}</legend><p class="hint">${words("draw.reportedWhat")}</p><div class="filters">
${field({ name: "from", label: words("person.from"), value: written("from"), type: "date" }, faults)}
${field({ name: "to", label: words("draw.to"), value: written("to"), type: "date" }, faults)}</div></fieldset>
<button class="send">${words("draw.do")}</button></form>`;
}
