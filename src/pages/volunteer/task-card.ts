import { type InstructionText, instructed } from "../../duties/instructions.js";
import { flag, type Html, html } from "../html.js";
import { ownForm } from "../layout.js";
import { picture } from "../pictures.js";
import type { PageText } from "../texts.js";
import type { Visitor } from "../visitors.js";
import type { Words } from "../words.js";
import { DRAWN_BESIDE, JOBS } from "./jobs.js";
import type { OpenTask } from "./open-work.js";

/** What went wrong with an answer to a task, and what stood in the field. */
export interface Refused {
	readonly taskId: string;
	readonly why: string;
	readonly reading: string;
}

export interface CardParts {
	readonly words: Words;
	readonly visitor: Visitor;
	/** Makes the key that an answer bears. */
	readonly newKey: () => string;
	/** Cautions that stand once for all tasks of the page. */
	readonly toldAbove: ReadonlySet<InstructionText>;
	readonly isOpen: boolean;
	readonly refused?: Refused | undefined;
}

/** One open task: what, where, why, how, with which care, and the field for the answer. */
export function taskCard(task: OpenTask, parts: CardParts): Html {
	const { words, toldAbove, isOpen, refused } = parts;
	const { guidance, brief, id } = task;
	const say = (name: InstructionText) => told(name, brief, words);
	const cautions = guidance.cautions.filter((name) => !toldAbove.has(name));
	const isRefused = refused?.taskId === id;
	return html`<details class="job${task.isAwaited && " now"}" id="t-${id}" data-task="${id}" data-title="${titleOf(task, words)}"${flag("open", isOpen || isRefused)}>
<summary>${picture(JOBS[task.kind]?.picture ?? "today")}<h2>${titleOf(task, words)}</h2><p class="where">${whereOf(task, words)}</p></summary>
<div><p class="why">${say(guidance.why)}</p>
<h3>${words("task.steps")}</h3>
<ol class="steps">${guidance.steps.map((name) => html`<li>${beside(name)}<span>${say(name)}</span></li>`)}</ol>
${cautions.length > 0 && html`<div class="careful"><h3>${words("task.careful")}</h3>${cautionList(cautions, brief, words)}</div>`}
<p class="kept">${words("offline.saved")}</p>
${answerForm(task, parts, isRefused ? refused : undefined)}</div></details>
`;
}

export function titleOf({ kind, brief }: Pick<OpenTask, "kind" | "brief">, words: Words): string {
	const job = JOBS[kind];
	return job ? words(job.title, { shortage: "no", what: "", household: "-", ...brief }) : kind;
}

/** Tells a text with a task's figures; days among them, which tasks keep as files write them, as her language writes them. */
function told(name: InstructionText, brief: OpenTask["brief"], words: Words): string {
	const figures = Object.entries(brief).map(([key, figure]) => [
		key,
		key.endsWith("On") && typeof figure === "string" && LOCAL_DATE.test(figure) ? words.date(figure) : figure,
	]);
	return instructed(name, Object.fromEntries(figures) as OpenTask["brief"], words.language);
}

const LOCAL_DATE = /^\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])$/;

/** @returns cautions in words, each with what is drawn beside it */
export function cautionList(names: readonly InstructionText[], brief: OpenTask["brief"], words: Words): Html {
	return html`<ul class="cautions">${names.map(
		(name) => html`<li>${beside(name, "warn")}<span>${told(name, brief, words)}</span></li>`,
	)}</ul>`;
}

function beside(name: InstructionText, otherwise: "warn" | "done" = "done"): Html {
	return picture(DRAWN_BESIDE[name] ?? otherwise);
}

function whereOf({ place, code, isAwaited }: OpenTask, words: Words): Html {
	const said = [isAwaited ? words("task.awaited") : "", place ? placeSaid(place, words) : words("task.atHome")].filter(Boolean);
	return html`<span class="code"><bdi>${code}</bdi></span> · ${said.join(" · ")}`;
}

function placeSaid({ kind, code, km, arriveAtMs }: NonNullable<OpenTask["place"]>, words: Words): string {
	const where = words(kind === "household" ? "task.household" : "task.generator", { code });
	if (km === null || arriveAtMs === null) return `${where} · ${words("task.notToday")}`;
	return `${where} · ${words("task.way", { km: words.number(km, 1), at: words.clock(arriveAtMs) })}`;
}

const UNITS = { mgPerL: "unit.mgPerL", litres: "unit.litres", minutes: "unit.minutes", volts: "unit.volts" } as const;
const QUESTIONS = {
	colour: "ask.colour",
	mgPerL: "ask.mgPerL",
	litres: "ask.litres",
	minutes: "ask.minutes",
	volts: "ask.volts",
	pieces: "ask.pieces",
	expiry: "ask.expiry",
} as const satisfies Record<string, PageText>;

/** Why something can't be done, in the order of how often it is so. Common practice, no source. */
export const REASONS = ["noKit", "noBleach", "nobodyHome", "noTime", "ill", "notSafe", "other"] as const;

function answerForm(task: OpenTask, { words, visitor, newKey }: CardParts, refused: Refused | undefined): Html {
	const { asks, id, code } = task;
	const begins =
		() => html`<form class="answer" method="post" action="/me/tasks/${id}/answer" data-answer="${id}" data-code="${code}">${ownForm(visitor)}
<input type="hidden" name="key" value="${newKey()}">`;
	const send = (means: string, label: string) =>
		html`<button class="send" name="means" value="${means}">${picture("done")}<span>${label}</span></button>`;
	return html`${asks.number && html`${begins()}${numberField(task, words, refused)}${send("reading", words("task.send"))}</form>`}
${
	asks.choices &&
	html`${begins()}<fieldset><legend>${words("ask.found")}</legend>${asks.choices.map(
		({ value, text }) =>
			html`<label class="choice"><input type="radio" name="reading" value="${value}" required><span>${told(text, task.brief, words)}</span></label>`,
	)}</fieldset>${send("reading", words("task.send"))}</form>`
}
${asks.done && html`${begins()}${send("done", asks.planned === undefined ? words("task.done") : words("task.doneAsPlanned", { amount: plannedSaid(task, words) }))}</form>`}
<details class="other"><summary>${picture("cannot")}<span>${words("task.cannot")}</span></summary>${begins()}<fieldset><legend>${words("task.cannot.why")}</legend>${REASONS.map(
		(reason) =>
			html`<label class="choice"><input type="radio" name="because" value="${reason}" required><span>${words(`reason.${reason}`)}</span></label>`,
	)}</fieldset><button class="quiet" name="means" value="cannot">${words("task.cannot.send")}</button></form></details>
${task.canWait && html`${begins()}<button class="quiet" name="means" value="later">${picture("later")}<span>${words("task.later")}</span></button></form>`}`;
}

function plannedSaid({ asks }: OpenTask, words: Words): string {
	return `${words.number(asks.planned ?? 0)} ${unitSaid(asks, words) ?? ""}`.trim();
}

function unitSaid({ number, unit }: OpenTask["asks"], words: Words): string | undefined {
	if (number && number in UNITS) return words(UNITS[number as keyof typeof UNITS]);
	return unit && words("stock.unit", { unit });
}

function numberField({ asks, id }: OpenTask, words: Words, refused: Refused | undefined): Html {
	const number = asks.number as keyof typeof QUESTIONS;
	const unit = unitSaid(asks, words);
	const described = [asks.scale && `s-${id}`, refused && `e-${id}`].filter(Boolean).join(" ");
	return html`<label for="r-${id}">${words(QUESTIONS[number])}</label>
${asks.scale && html`<p id="s-${id}">${words("ask.scale", { scale: asks.scale })}</p>`}
${refused && html`<p class="wrong" id="e-${id}">${refused.why}</p>`}
<p class="reading"><input id="r-${id}" name="reading" type="text" dir="ltr" inputmode="decimal" autocomplete="off" maxlength="12" required value="${refused?.reading ?? ""}"${described && html` aria-describedby="${described}"`}${refused && html` aria-invalid="true" autofocus`}>${unit && html`<span class="unit">${unit}</span>`}</p>`;
}
