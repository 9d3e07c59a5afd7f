import type { IncidentState } from "../../audit/incidents/rows.js";
import { type Faults, lines, NO_FAULTS } from "../fields.js";
import { type Html, html } from "../html.js";
import { ownForm } from "../layout.js";
import type { Visit } from "../page.js";
import type { Refused } from "../refused.js";

/** What was done, as the address says it. */
export const DONE = ["taken", "noted", "closed"] as const;

/** A step that wasn't taken: what is wrong at its field, or why it was refused. */
export interface NotTaken {
	readonly status: number;
	readonly faults?: Faults;
	readonly refused?: Refused;
}

interface Standing {
	/** Of the incident's page. */
	readonly path: string;
	readonly state: IncidentState;
	/** Of what the page shows: a step that somebody else took since makes it another. */
	readonly version: string;
}

/** What can be done about an incident that isn't closed: take it up, note what was found, close it with a reason. */
export function stepForms({ words, visitor, form }: Visit, { path, state, version }: Standing, faults: Faults = NO_FAULTS): Html {
	const hidden = html`${ownForm(visitor)}<input type="hidden" name="version" value="${version}">`;
	return html`<section><h2>${words("incidents.follow")}</h2>
${state === "open" && html`<form method="post" action="${path}/look-into">${hidden}<button>${words("incidents.take")}</button></form>`}
<form method="post" action="${path}/notes">${hidden}${lines({ name: "note", label: words("incidents.note"), hint: words("incidents.noteWhat"), value: form.get("note"), isNeeded: true }, faults)}
<button class="quiet">${words("incidents.doNote")}</button></form>
<form method="post" action="${path}/close">${hidden}${lines({ name: "because", label: words("incidents.why"), hint: words("incidents.noteWhat"), value: form.get("because"), isNeeded: true }, faults)}
<button>${words("incidents.close")}</button></form></section>`;
}
