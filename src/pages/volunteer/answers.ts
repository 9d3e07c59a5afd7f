import type { Html } from "../html.js";
import { html } from "../html.js";
import type { Shown, Visit } from "../page.js";
import { picture } from "../pictures.js";
import type { Words } from "../words.js";
import type { VolunteerParts } from "./parts.js";
import { titleOf } from "./task-card.js";
import { unsentPlace } from "./today.js";

interface Answered {
	readonly id: string;
	readonly code: string;
	readonly kind: string;
	readonly state: "done" | "cannot";
	readonly brief: string;
	readonly closedAtMs: number;
	readonly outcome: string | null;
}

interface NotTaken {
	readonly body: string;
	readonly receivedAtMs: number;
	readonly outcome: string;
}

const MOST = 30;

/** What she answered, and what became of it; what wasn't taken stands among it, so that nobody thinks that it counts. */
export async function answersPage({ store }: VolunteerParts, visit: Visit): Promise<Shown> {
	const { words, visitor } = visit;
	const answered = await store.query<Answered>(
		`SELECT id, code, kind, state, brief, closed_at_ms, outcome FROM task WHERE assignee_id = $1 AND state IN ('done', 'cannot') AND closed_at_ms IS NOT NULL
		 ORDER BY closed_at_ms DESC, id LIMIT ${MOST}`,
		[visitor.personId],
	);
	const notTaken = await store.query<NotTaken>(
		`SELECT body, received_at_ms, outcome FROM reply WHERE person_id = $1 AND outcome NOT IN ('accepted', 'received', 'help', 'put off')
		 ORDER BY received_at_ms DESC, id LIMIT ${MOST}`,
		[visitor.personId],
	);
	const lines = [
		...answered.map((one) => ({ atMs: one.closedAtMs, line: answeredLine(one, words) })),
		...notTaken.map((one) => ({ atMs: one.receivedAtMs, line: notTakenLine(one, words) })),
	].sort((a, b) => b.atMs - a.atMs);
	const main = html`${unsentPlace(visit)}${
		lines.length === 0
			? html`<p>${words("answers.none")}</p>`
			: html`<ul class="list">${lines.slice(0, MOST).map(({ line }) => line)}</ul>`
	}`;
	return { title: words("answers.title"), main, here: "/me/answers" };
}

function answeredLine({ id, kind, state, brief, closedAtMs, outcome }: Answered, words: Words): Html {
	const title = titleOf({ kind, brief: JSON.parse(brief) as Record<string, string | number> }, words);
	const { reading } = (outcome === null ? {} : JSON.parse(outcome)) as { reading?: string };
	return html`<li><p class="state">${picture(state === "done" ? "done" : "cannot")}<span><a href="/me/tasks/${id}">${title}</a></span></p>
<p>${words(`state.${state}`)}${reading !== undefined && html` · <bdi>${reading}</bdi>`} · ${words.moment(closedAtMs)}</p></li>`;
}

function notTakenLine({ body, receivedAtMs, outcome }: NotTaken, words: Words): Html {
	return html`<li><p class="state">${picture("warn")}<span><bdi>${body}</bdi></span></p>
<p>${outcome === "closed already" ? words("offline.closed") : words("answers.notTaken")} · ${words.moment(receivedAtMs)}</p></li>`;
}
