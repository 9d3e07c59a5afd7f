import { type Faults, faultOf, field, lines, oneOf } from "../fields.js";
import { type Html, html } from "../html.js";
import { ownForm } from "../layout.js";
import type { Visit } from "../page.js";
import { choices } from "../tables.js";
import type { Visitable } from "./draw-form.js";

/** What the form begins with. */
export interface VisitForm {
	readonly action: string;
	/** Who may have made the visit. */
	readonly people: readonly Visitable[];
	/** Who was asked to make it. */
	readonly auditorCode: string;
	/** At the household, 'YYYY-MM-DD'. */
	readonly today: string;
	/** Something is on file, which this corrects. */
	readonly isCorrection: boolean;
}

/** What was found at a household; what is wrong stands at its field, and everything else stays as it was written. */
export function visitForm(visit: Visit, { action, people, auditorCode, today, isCorrection }: VisitForm, faults: Faults): Html {
	const { words, visitor, form } = visit;
	const isAgain = form.has("on");
	const written = (name: string, first = "") => (isAgain ? (form.get(name) ?? "") : first);
	const yesOrNo = (name: string) => [
		...[
			{ value: "yes", words: words("sample.yes") },
			{ value: "no", words: words("sample.no") },
		],
		{ value: "", words: words(name === "treated" ? "visit.notKnown" : "visit.notLooked") },
	];
	const seen = html`${field({ name: "reading", label: words("visit.reading"), value: written("reading"), isNumber: true, hint: words("visit.readingWhat") }, faults)}
<fieldset><legend>${words("visit.treated")}</legend>${oneOf("treated", yesOrNo("treated"), written("treated"))}</fieldset>
<fieldset><legend>${words("visit.container")}</legend>${oneOf("container", yesOrNo("container"), written("container"))}</fieldset>`;
	return html`<form method="post" action="${action}">${ownForm(visitor)}
<fieldset><legend>${words("visit.outcome")}</legend>${faultOf("outcome", faults)}${oneOf(
		"outcome",
		[
			{ value: "seen", words: words("visit.seen"), more: seen },
			{ value: "refused", words: words("visit.refused") },
			{ value: "absent", words: words("visit.absent") },
		],
		written("outcome"),
	)}</fieldset>
<div class="filters">${choices(
		"by",
		"by",
		words("sample.auditor"),
		people.map(({ code, name }) => ({ value: code, words: words("lead.named", { name, code }) })),
		written("by", auditorCode),
	)}${field({ name: "other", label: words("visit.other"), value: written("other") }, faults)}</div>
<div class="filters">${field({ name: "on", label: words("visit.on"), value: written("on", today), type: "date", isNeeded: true }, faults)}${field({ name: "at", label: words("visit.at"), value: written("at"), type: "time", isNeeded: true }, faults)}</div>
<p class="hint">${words("visit.atWhat")}</p>
${isCorrection && lines({ name: "because", label: words("visit.because"), value: written("because"), isNeeded: true, hint: words("visit.becauseWhat") }, faults)}
<button class="send">${words("visit.keep")}</button></form>`;
}
