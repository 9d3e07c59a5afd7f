import type { Capacity } from "../../assignment/capacities.js";
import { type Faults, type Field, field, NO_FAULTS } from "../fields.js";
import { type Html, html } from "../html.js";
import { ownForm } from "../layout.js";
import type { Visit } from "../page.js";
import type { PageText } from "../texts.js";

interface Said {
	readonly capacity: Capacity;
	readonly tag: string;
}

export const FIELDS: readonly (readonly [name: keyof Capacity, label: PageText, Pick<Field, "type" | "isNumber">])[] = [
	["mostHouseholds", "capacity.households", { isNumber: true }],
	["mostLitresPerDay", "capacity.litres", { isNumber: true }],
	["mostHoursPerWeek", "capacity.hours", { isNumber: true }],
	["worksFrom", "capacity.from", { type: "time" }],
	["worksUntil", "capacity.until", { type: "time" }],
	["latitudeDeg", "capacity.latitude", { isNumber: true }],
	["longitudeDeg", "capacity.longitude", { isNumber: true }],
];

/** What a volunteer can take on, to be said anew. */
export function capacityForm({ words, visitor, form }: Visit, code: string, said: Said, faults: Faults = NO_FAULTS): Html {
	const isAgain = form.has("mostHouseholds");
	const written = (name: keyof Capacity) => (isAgain ? form.get(name) : (said.capacity[name]?.toString() ?? ""));
	return html`<section><h2>${words("capacity.title")}</h2><p>${words("capacity.what")}</p>
<form method="post" action="/team/people/${encodeURIComponent(code)}/capacity">${ownForm(visitor)}<input type="hidden" name="tag" value="${said.tag}">
<div class="filters">${FIELDS.map(([name, label, how]) => field({ name, label: words(label), value: written(name), ...how }, faults))}</div>
<button>${words("capacity.save")}</button></form></section>`;
}
