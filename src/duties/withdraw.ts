import { record } from "../ledger/ledger.js";
import { withdrawMessages } from "../messages/outbox.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";

/** Facts that came in another way than by an answer, and that leave nothing to do. */
export interface Overtaking {
	readonly kind: string;
	readonly subjectIds: readonly string[];
	/** What happened instead, in a few words, with its figures: the task's evidence. */
	readonly evidence: Readonly<Record<string, unknown>> & { readonly because: string };
	readonly actor: string;
	readonly nowMs: number;
}

/**
 * Closes the open tasks of subjects that need them no more; reminders that still wait go with them. The next cycle begins, and whoever
 * calls sets when the subject is next due.
 * @returns how many tasks were closed
 */
export async function withdrawTasks(tx: Transaction, ids: Ids, over: Overtaking): Promise<number> {
	let closed = 0;
	for (let from = 0; from < over.subjectIds.length; from += 500) {
		const page = over.subjectIds.slice(from, from + 500);
		const tasks = await tx.query<{ id: string; code: string; subjectId: string; areaId: string }>(
			`UPDATE task SET state = 'withdrawn', next_step_at_ms = NULL, closed_at_ms = $1, outcome = $2
			 WHERE kind = $3 AND state = 'open' AND subject_id IN (${placeholders(page.length, 4)}) RETURNING id, code, subject_id, area_id`,
			[over.nowMs, JSON.stringify(over.evidence), over.kind, ...page],
		);
		if (tasks.length === 0) continue;
		closed += tasks.length;
		await withdrawMessages(
			tx,
			"task_id",
			tasks.map(({ id }) => id),
			over.nowMs,
		);
		await tx.affected(`UPDATE due SET cycle = cycle + 1 WHERE kind = $1 AND subject_id IN (${placeholders(tasks.length, 2)})`, [
			over.kind,
			...tasks.map(({ subjectId }) => subjectId),
		]);
		await record(
			tx,
			ids,
			tasks.map(({ id, code, subjectId, areaId }) => ({
				atMs: over.nowMs,
				actor: over.actor,
				action: "task withdrawn",
				subjectKind: "task",
				subjectId: id,
				areaId,
				detail: { kind: over.kind, code, about: subjectId, ...over.evidence },
			})),
		);
	}
	return closed;
}
