import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { type NewMessage, withdrawMessages } from "../messages/outbox.js";
import { fillingsOf, isTextName } from "../messages/text-names.js";
import { post, type Wake } from "../messages/wake.js";
import { setDue } from "../programme/due.js";
import { currentPolicy } from "../programme/policy.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import type { Answered, Moment, TaskAnswer, Telling } from "./kind.js";
import type { DutyKinds } from "./kinds.js";
import { oneTask } from "./one-task.js";
import { notBeforeMs, type Reachable, reachablePeople } from "./reachable.js";
import type { TaskRow } from "./rows.js";

/** Takes answers to tasks, from whichever way they came. */
export class Answers {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly kinds: DutyKinds,
		private readonly wake: Wake,
	) {}

	/**
	 * Takes an answer to an open task: what follows from it, the closing, the next due instant and what is told, all or nothing.
	 * @param byPersonId who answered; null for somebody at the office who isn't on the list
	 * @returns what was accepted, or why not with what would be right; a refusal leaves the task open
	 * @throws InputError `unknown-task`, `task-closed`, `time-in-future`
	 */
	take(taskId: string, answer: TaskAnswer, byPersonId: string | null): Promise<Answered> {
		return this.store.work.run(async (tx) => {
			const moment: Moment = { nowMs: this.clock.nowMs(), policy: await currentPolicy(tx) };
			const task = await oneTask(tx, taskId);
			if (!task) throw new InputError("unknown-task", "There is no such task.", { status: 404 });
			if (task.state !== "open") throw alreadyClosed(task);
			const taken = await this.kinds.named(task.kind).take(tx, task, answer, byPersonId, moment);
			const because = answer.kind === "cannot" ? answer.because : undefined;
			const answered = because === undefined ? taken : { ...taken, outcome: { ...taken.outcome, because } };
			if (answered.accepted) await this.close(tx, task, answered, byPersonId, moment.nowMs);
			await this.tell(tx, task, answered, byPersonId, moment);
			return answered;
		});
	}

	private async close(
		tx: Transaction,
		task: TaskRow,
		answered: Answered,
		byPersonId: string | null,
		nowMs: number,
	): Promise<void> {
		const closed = await tx.affected(
			`UPDATE task SET state = $2, next_step_at_ms = NULL, closed_at_ms = $3, closed_by_id = $4, outcome = $5
			 WHERE id = $1 AND state = 'open'`,
			[task.id, answered.state, nowMs, byPersonId, JSON.stringify(answered.outcome)],
		);
		// Somebody else's answer was quicker: what this one wrote goes back with the unit of work.
		if (closed === 0) throw alreadyClosed(task);
		await withdrawMessages(tx, "task_id", [task.id], nowMs);
		await setDue(tx, [{ kind: task.kind, subjectId: task.subjectId, areaId: task.areaId, dueAtMs: answered.nextDueAtMs }], true);
		await record(tx, this.ids, [
			{
				atMs: nowMs,
				actor: byPersonId ?? "office",
				action: `task ${answered.state}`,
				subjectKind: "task",
				subjectId: task.id,
				areaId: task.areaId,
				detail: {
					kind: task.kind,
					code: task.code,
					about: task.subjectId,
					nextDueAtMs: answered.nextDueAtMs,
					...answered.outcome,
				},
			},
		]);
	}

	private async tell(
		tx: Transaction,
		task: TaskRow,
		answered: Answered,
		byPersonId: string | null,
		{ nowMs, policy }: Moment,
	): Promise<void> {
		const recipientId = byPersonId ?? task.assigneeId;
		if (!recipientId) return;
		const person = (await reachablePeople(tx, [recipientId])).get(recipientId);
		const supervisor = person?.supervisorId
			? (await reachablePeople(tx, [person.supervisorId])).get(person.supervisorId)
			: undefined;
		const messages: NewMessage[] = [];
		const add = (to: Reachable | undefined, telling: Telling | undefined, key: string, notBefore: number) => {
			if (!to || !telling) return;
			const fill: Record<string, string | number> = { ...telling.fill, code: task.code };
			if (isTextName(telling.text) && "name" in fillingsOf(telling.text)) fill["name"] = person?.name ?? "-";
			const common = { id: this.ids.next(), taskId: null, recipientId: to.id, createdAtMs: nowMs, notBeforeMs: notBefore };
			messages.push({ ...telling, ...common, fill, idempotencyKey: `${task.id}.${key}` });
		};
		const allowedAtMs = (to: Reachable, { urgent }: Telling) =>
			urgent && policy.urgentBreaksQuietHours ? nowMs : notBeforeMs(to, nowMs);
		// Whoever answered has just had the phone in her hand: no quiet hours for the answer to her answer.
		// A refused answer may come several times; what was accepted is told once.
		add(
			person,
			answered.tell,
			answered.accepted ? "answer" : `refused.${this.ids.next()}`,
			person && byPersonId === null ? allowedAtMs(person, answered.tell) : nowMs,
		);
		if (supervisor && answered.tellSupervisor)
			add(supervisor, answered.tellSupervisor, "supervisor", allowedAtMs(supervisor, answered.tellSupervisor));
		const others = answered.tellOthers ?? [];
		const reachable = await reachablePeople(
			tx,
			others.map((other) => other.recipientId),
		);
		for (const [i, { recipientId: id, ...telling }] of others.entries()) {
			const other = reachable.get(id);
			if (other) add(other, telling, `other.${i}`, allowedAtMs(other, telling));
		}
		await post(tx, this.wake, messages);
	}
}

function alreadyClosed(task: TaskRow): InputError {
	return new InputError("task-closed", `Task ${task.code} has been answered already; nothing was changed.`, { status: 409 });
}
