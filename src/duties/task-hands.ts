import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { withdrawMessages } from "../messages/outbox.js";
import { post, tellOfWork, type Wake } from "../messages/wake.js";
import { currentPolicy } from "../programme/policy.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import type { Brief } from "./kind.js";
import type { DutyKinds } from "./kinds.js";
import { ladderOf, restOfLadderMs, stepAtMs } from "./ladder.js";
import { oneTask } from "./one-task.js";
import { notBeforeMs, reachablePeople } from "./reachable.js";
import type { TaskRow } from "./rows.js";

/** In whose hands a task is: somebody takes over the worry about it, or it is given to another person. */
export class TaskHands {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly kinds: DutyKinds,
		private readonly wake: Wake,
	) {}

	/**
	 * Stops the ladder of an open task for as long as it rests between two rounds: somebody has taken note and sees to it. It stays open. Said
	 * again, it changes nothing.
	 * @param byPersonId who; null for somebody at the office who isn't on the list
	 * @returns since when it is acknowledged, epoch milliseconds
	 * @throws InputError `unknown-task`, `task-closed`
	 */
	acknowledge(taskId: string, byPersonId: string | null): Promise<number> {
		return this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			const task = await openTask(tx, taskId);
			if (task.acknowledgedAtMs !== null) return task.acknowledgedAtMs;
			const restMs = restOfLadderMs(await currentPolicy(tx));
			// What is still open then is asked for anew: seen to isn't done.
			const againAtMs = restMs === null ? null : nowMs + restMs;
			await tx.affected(
				"UPDATE task SET acknowledged_at_ms = $2, acknowledged_by_id = $3, next_step_at_ms = $4 WHERE id = $1 AND state = 'open'",
				[taskId, nowMs, byPersonId, againAtMs],
			);
			await withdrawMessages(tx, "task_id", [taskId], nowMs, "text LIKE '%.supervisor'");
			await this.record(tx, task, "task acknowledged", byPersonId, nowMs, {});
			return nowMs;
		});
	}

	/**
	 * Gives an open task to another person: she is told of it, and who had it that it isn't hers any more. Code and figures stay;
	 * the ladder begins anew.
	 * @param byPersonId who gave it; null for somebody at the office who isn't on the list
	 * @throws InputError `unknown-task`, `task-closed`; `conflict` where it is hers already; `invalid-input` where she can't be written to
	 */
	handOver(taskId: string, toPersonId: string, byPersonId: string | null): Promise<void> {
		return this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			const task = await openTask(tx, taskId);
			if (task.assigneeId === toPersonId)
				throw new InputError("conflict", `Task ${task.code} is this person's already; nothing was changed.`, { status: 409 });
			const people = await reachablePeople(tx, [toPersonId, task.assigneeId ?? toPersonId]);
			const person = people.get(toPersonId);
			if (!person)
				throw new InputError("invalid-input", "This person has left, or wants no messages: give the task to another.", {
					problems: [{ at: "/toPersonCode", message: "must be somebody who can be written to" }],
				});
			const kind = this.kinds.named(task.kind);
			const policy = await currentPolicy(tx);
			const fromMs = kind.isUrgent(task.brief as Brief) && policy.urgentBreaksQuietHours ? nowMs : notBeforeMs(person, nowMs);
			await withdrawMessages(tx, "task_id", [taskId], nowMs);
			await tx.affected(
				`UPDATE task SET assignee_id = $2, ladder_step = 0, ladder_from_ms = $3, next_step_at_ms = $4, put_off_times = NULL,
				        acknowledged_at_ms = NULL, acknowledged_by_id = NULL WHERE id = $1 AND state = 'open'`,
				[
					taskId,
					toPersonId,
					fromMs,
					stepAtMs(ladderOf(policy, task.kind, kind.isUrgent(task.brief as Brief)), 0, fromMs, person),
				],
			);
			const common = { taskId, createdAtMs: nowMs, urgent: kind.isUrgent(task.brief as Brief) };
			const id = this.ids.next();
			const told = { ...common, id, idempotencyKey: `${taskId}.handed.${id}`, recipientId: toPersonId, notBeforeMs: fromMs };
			const fill = { ...(task.brief as Record<string, string | number>), code: task.code };
			await tellOfWork(tx, this.wake, [{ ...told, text: kind.texts.first, fill }]);
			const before = people.get(task.assigneeId ?? "");
			if (before) {
				const toBefore = { id: this.ids.next(), idempotencyKey: `${taskId}.handed.${id}.before`, recipientId: before.id };
				const away = { ...common, ...toBefore, taskId: null, urgent: false, notBeforeMs: notBeforeMs(before, nowMs) };
				await post(tx, this.wake, [{ ...away, text: "task.handedOver", fill: { code: task.code, name: person.name } }]);
			}
			await this.record(tx, task, "task handed over", byPersonId, nowMs, { fromId: task.assigneeId, toId: toPersonId });
		});
	}

	private async record(tx: Transaction, task: TaskRow, action: string, byPersonId: string | null, atMs: number, detail: object) {
		const about = { subjectKind: "task", subjectId: task.id, areaId: task.areaId };
		await record(tx, this.ids, [
			{ atMs, actor: byPersonId ?? "office", action, ...about, detail: { kind: task.kind, code: task.code, ...detail } },
		]);
	}
}

async function openTask(tx: Transaction, id: string): Promise<TaskRow> {
	// Held until the unit of work ends, so that an answer at the same moment comes before or after, not in between.
	if (tx.kind === "postgres") await tx.query("SELECT id FROM task WHERE id = $1 FOR UPDATE", [id]);
	const task = await oneTask(tx, id);
	if (!task) throw new InputError("unknown-task", "There is no such task.", { status: 404 });
	if (task.state === "open") return task;
	throw new InputError("task-closed", `Task ${task.code} is closed already; nothing was changed.`, { status: 409 });
}
