import { type ParsedAnswer, parsedAnswer } from "../messages/answers.js";
import type { Transaction } from "../store/unit-of-work.js";
import { DAY_MS } from "../time/clock.js";

/** A task that a text is about. */
export interface KnownTask {
	readonly id: string;
	readonly code: string;
	readonly state: string;
	readonly areaId: string;
	readonly assigneeId: string | null;
}

/** An answer without a code is held to be the same one again for so long. */
const REPEATED_WITHIN_MS = DAY_MS;

/** @returns the task that one of the senders has answered with just this, where there is one */
export async function repeatedAnswer(
	tx: Transaction,
	senders: readonly { readonly id: string }[],
	parsed: ParsedAnswer,
	nowMs: number,
	taskId?: string,
): Promise<KnownTask | undefined> {
	const names = senders.map((_, i) => `$${i + 2}`).join(",");
	const taken = await tx.query<KnownTask & { body: string }>(
		`SELECT t.id, t.code, t.state, t.area_id, t.assignee_id, r.body FROM reply r JOIN task t ON t.id = r.task_id
		 WHERE r.outcome = 'accepted' AND r.received_at_ms >= $1 AND r.person_id IN (${names}) ORDER BY r.id DESC LIMIT 20`,
		[taskId ? 0 : nowMs - REPEATED_WITHIN_MS, ...senders.map(({ id }) => id)],
	);
	return taken.find(({ id, body }) => (taskId ? id === taskId : true) && saysTheSame(parsedAnswer(body), parsed));
}

function saysTheSame(one: ParsedAnswer, other: ParsedAnswer): boolean {
	if (one.kind !== other.kind) return false;
	return one.kind !== "reading" || one.reading === (other as typeof one).reading;
}
