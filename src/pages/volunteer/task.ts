import type { PageAnswered, PageOutcome } from "../../duties/page-answers.js";
import { InputError } from "../../errors/errors.js";
import { textOf } from "../../messages/texts.js";
import { html } from "../html.js";
import type { Answer, Shown, Visit } from "../page.js";
import { picture } from "../pictures.js";
import type { PageText } from "../texts.js";
import { openTaskOf } from "./open-work.js";
import type { VolunteerParts } from "./parts.js";
import { REASONS, taskCard, titleOf } from "./task-card.js";
import { todayPage } from "./today.js";

interface ClosedTask {
	readonly id: string;
	readonly code: string;
	readonly kind: string;
	readonly state: "open" | "done" | "cannot" | "withdrawn";
	readonly brief: string;
	readonly closedAtMs: number | null;
	readonly closedBy: string | null;
	readonly toldText: string | null;
	readonly toldFill: string | null;
}

/** One task of hers by itself; where it is closed, what came of it and what follows for her. */
export async function taskPage(parts: VolunteerParts, visit: Visit): Promise<Shown> {
	const { words, visitor, named, query } = visit;
	const id = named["id"] as string;
	const open = await openTaskOf(parts, visitor.personId, id);
	if (open) {
		const card = taskCard(open, { words, visitor, newKey: parts.newKey, toldAbove: new Set(), isOpen: true });
		return {
			title: titleOf(open, words),
			main: html`${query.get("is") === "put-off" && html`<p class="told">${words("task.putOff")}</p>`}${card}${back(visit)}`,
		};
	}
	const [task] = await parts.store.query<ClosedTask>(
		`SELECT t.id, t.code, t.kind, t.state, t.brief, t.closed_at_ms, c.name AS closed_by, m.text AS told_text, m.fill AS told_fill
		 FROM task t LEFT JOIN person c ON c.id = t.closed_by_id LEFT JOIN message m ON m.idempotency_key = t.id || '.answer' AND m.recipient_id = $2
		 WHERE t.id = $1 AND (t.assignee_id = $2 OR t.closed_by_id = $2)`,
		[id, visitor.personId],
	);
	if (!task) throw new InputError("unknown-task", words("error.nothingHere"), { status: 404 });
	const brief = JSON.parse(task.brief) as Record<string, string | number>;
	const told = task.toldText && toldIn(visit, { text: task.toldText, fill: JSON.parse(task.toldFill ?? "{}") });
	const isLate = query.get("is") === "late";
	return {
		title: titleOf({ kind: task.kind, brief }, words),
		main: html`${isLate && html`<p class="stop">${words("offline.closed")}</p>`}
<p class="state">${picture(task.state === "done" ? "done" : "cannot")}<span>${words(`state.${task.state}`)}</span></p>
${told && html`<p class="told">${told}</p>`}
<dl><div><dt>${words("task.code")}</dt><dd><bdi>${task.code}</bdi></dd></div>${task.closedAtMs !== null && html`<div><dt>${words("task.closedAt")}</dt><dd>${words.moment(task.closedAtMs)}</dd></div>`}${task.closedBy && html`<div><dt>${words("task.closedBy")}</dt><dd>${task.closedBy}</dd></div>`}</dl>
${back(visit)}`,
	};
}

function back({ words }: Visit) {
	return html`<p><a class="button" href="/me">${words("task.back")}</a></p>`;
}

/** Takes an answer: from a page with a script as plain values, from one without as the page to look at next. */
export async function answerTask(parts: VolunteerParts, visit: Visit): Promise<Answer> {
	const { form, named, visitor, nowMs, request, wantsJson, words } = visit;
	const taskId = named["id"] as string;
	const field = (name: string) => (form.get(name) ?? "").trim().slice(0, 60);
	const header = request.headers["idempotency-key"];
	const key = (typeof header === "string" ? header.replaceAll('"', "") : "") || field("key");
	const means = (["reading", "done", "cannot", "later"] as const).find((one) => one === field("means"));
	if (!means || !/^[\w-]{8,60}$/.test(key)) throw new InputError("invalid-input", words("error.formTooOld"));
	const answeredAtMs = Number(field("answeredAtMs"));
	const answered = await parts.answers.take({
		key,
		taskId,
		personId: visitor.personId,
		means,
		reading: field("reading"),
		because: REASONS.find((one) => one === field("because")) ?? "",
		answeredAtMs: Number.isSafeInteger(answeredAtMs) && answeredAtMs > 0 && answeredAtMs <= nowMs ? answeredAtMs : null,
	});
	const said = saidOf(visit, answered);
	if (wantsJson) return { json: { outcome: answered.outcome, said, to: `/me/tasks/${taskId}` }, status: 200 };
	if (answered.outcome === "accepted") return { seeOther: `/me/tasks/${taskId}` };
	if (answered.outcome === "put off") return { seeOther: `/me/tasks/${taskId}?is=put-off` };
	if (answered.outcome === "closed already") return { seeOther: `/me/tasks/${taskId}?is=late` };
	return todayPage(parts, visit, { taskId, why: said, reading: field("reading") });
}

const SAID: Readonly<Record<PageOutcome, PageText>> = {
	accepted: "outcome.accepted",
	refused: "outcome.refused",
	unclear: "outcome.unclear",
	"not the assignee's": "outcome.notYours",
	"closed already": "offline.closed",
	"no open task": "outcome.notYours",
	"put off": "task.putOff",
	"not put off": "outcome.notPutOff",
};

function saidOf(visit: Visit, { outcome, tell }: PageAnswered): string {
	return tell ? toldIn(visit, tell) : visit.words(SAID[outcome]);
}

function toldIn({ words }: Visit, { text, fill }: { text: string; fill: Readonly<Record<string, unknown>> }): string {
	return textOf(text, fill, words.language, "en").text;
}
