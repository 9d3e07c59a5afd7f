import { record } from "../ledger/ledger.js";
import { withdrawMessages } from "../messages/outbox.js";
import { tellOfWork, type Wake } from "../messages/wake.js";
import { currentPolicy } from "../programme/policy.js";
import { only, type Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";
import { dayAfter, instantOfLocal, localDateOf, nextContactInstant } from "../time/local.js";
import type { Brief, DutyKind } from "./kind.js";
import type { DutyKinds } from "./kinds.js";
import { ladderOf, stepAtMs } from "./ladder.js";
import { reachablePeople } from "./reachable.js";

/** A task isn't put off more often than this: it would never be done, and nobody would be told. */
const MOST_TIMES = 2;

export interface PuttingOff {
	readonly taskId: string;
	readonly personId: string;
	readonly ids: Ids;
	readonly kinds: DutyKinds;
	readonly wake: Wake;
	readonly nowMs: number;
}

interface Open {
	readonly code: string;
	readonly kind: string;
	readonly areaId: string;
	readonly brief: string;
	readonly ladderStep: number;
	readonly ladderFromMs: number;
	readonly putOffTimes: number;
}

/** @returns whether a task may wait until tomorrow: it isn't urgent, nobody waits for it, and it wasn't put off twice already */
export function canWait(kind: DutyKind, brief: Brief, putOffTimes: number): boolean {
	return !kind.isUrgent(brief) && putOffTimes < MOST_TIMES;
}

/**
 * Lets an open task wait until its assignee's next working morning: the ladder stands still until then, and she is reminded then.
 * @returns the local date of that morning; none where it can't wait: it is urgent, or was put off twice already
 */
export async function putOff(
	tx: Transaction,
	{ taskId, personId, ids, kinds, wake, nowMs }: PuttingOff,
): Promise<string | undefined> {
	const task = only(
		await tx.query<Open>(
			`SELECT code, kind, area_id, brief, ladder_step, COALESCE(ladder_from_ms, opened_at_ms) AS ladder_from_ms, COALESCE(put_off_times, 0) AS put_off_times
			 FROM task WHERE id = $1`,
			[taskId],
		),
	);
	const kind = kinds.named(task.kind);
	const person = (await reachablePeople(tx, [personId])).get(personId);
	if (!person || !canWait(kind, JSON.parse(task.brief) as Brief, task.putOffTimes)) return undefined;
	const midnightMs = instantOfLocal(dayAfter(localDateOf(nowMs, person.timeZone)), "00:00", person.timeZone);
	const untilMs = nextContactInstant(midnightMs, person);
	const shiftedMs = task.ladderFromMs + (untilMs - nowMs);
	const nextStepAtMs = stepAtMs(ladderOf(await currentPolicy(tx), task.kind), task.ladderStep, shiftedMs, person);
	await tx.affected(
		"UPDATE task SET put_off_times = $2, ladder_from_ms = $3, next_step_at_ms = $4 WHERE id = $1 AND state = 'open'",
		[taskId, task.putOffTimes + 1, shiftedMs, nextStepAtMs],
	);
	await withdrawMessages(tx, "task_id", [taskId], nowMs);
	await tellOfWork(tx, wake, [
		{
			id: ids.next(),
			idempotencyKey: `${taskId}.later.${task.putOffTimes + 1}`,
			taskId,
			recipientId: personId,
			text: kind.texts.again,
			fill: { ...(JSON.parse(task.brief) as Brief), code: task.code },
			urgent: false,
			createdAtMs: nowMs,
			notBeforeMs: untilMs,
		},
	]);
	await record(tx, ids, [
		{
			atMs: nowMs,
			actor: personId,
			action: "task put off",
			subjectKind: "task",
			subjectId: taskId,
			areaId: task.areaId,
			detail: { code: task.code, times: task.putOffTimes + 1, untilMs },
		},
	]);
	return localDateOf(untilMs, person.timeZone);
}
