import type { InstructionText } from "../../duties/instructions.js";
import { html } from "../html.js";
import type { Shown, Visit } from "../page.js";
import { picture } from "../pictures.js";
import { DRAWN_BESIDE } from "./jobs.js";
import { type OpenTask, openWorkOf } from "./open-work.js";
import type { VolunteerParts } from "./parts.js";
import { cautionList, type Refused, taskCard } from "./task-card.js";

/** What is open today, in the order of the walk. */
export async function todayPage(parts: VolunteerParts, visit: Visit, refused?: Refused): Promise<Shown> {
	const { words, visitor, nowMs } = visit;
	const { tasks, km, stops } = await openWorkOf(parts, visitor, nowMs);
	const toldAbove = new Set(sharedCautions(tasks));
	const main = html`<p>${words.day(nowMs)}${stops > 0 && html` · ${words("today.walk", { stops, km: words.number(km, 1) })}`}</p>
${unsentPlace(visit)}
${
	tasks.length === 0
		? html`<p class="told lead">${picture("done")}<span>${words("today.nothing")}</span></p>`
		: html`${
				toldAbove.size > 0 &&
				html`<details class="careful"><summary>${picture("warn")}<span>${words("today.always")}</span><span class="drawn">${drawnOf([...toldAbove])}</span></summary>${cautionList([...toldAbove], {}, words)}</details>`
			}${tasks.map((task, at) =>
				taskCard(task, { words, visitor, newKey: parts.newKey, toldAbove, isOpen: at === 0 && !refused, refused }),
			)}`
}`;
	return { title: words("today.title", { count: tasks.length }), main, here: "/me", ...(refused && { status: 422 }) };
}

/** Cautions that every task has: they stand once, above all, and each task has its own below. */
function sharedCautions([first, ...others]: readonly OpenTask[]): InstructionText[] {
	if (!first || others.length === 0) return [];
	return first.guidance.cautions.filter((name) => others.every(({ guidance }) => guidance.cautions.includes(name)));
}

/** What the cautions are about, to be seen before they are opened. */
function drawnOf(names: readonly InstructionText[]) {
	return names.flatMap((name) => DRAWN_BESIDE[name] ?? []).map((drawn) => picture(drawn));
}

/** Where the script shows what the phone keeps until there is a network; its words are here, so that it has none of its own. */
export function unsentPlace({ words, visitor }: Visit) {
	return html`<section id="unsent" class="kept" hidden aria-live="polite" data-token="${visitor.formToken}" data-signed-out="${words("offline.signedOut")}" data-closed="${words("offline.closed")}" data-refused="${words("offline.refused")}" data-remove="${words("offline.remove")}" data-waiting="${words("offline.waiting")}"><h2>${words("offline.unsent")}</h2><ul class="list"></ul></section>`;
}
