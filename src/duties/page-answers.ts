import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { parsedAnswer } from "../messages/answers.js";
import type { Wake } from "../messages/wake.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import type { Answers } from "./answers.js";
import type { TaskAnswer, Telling } from "./kind.js";
import type { DutyKinds } from "./kinds.js";
import { putOff } from "./put-off.js";

/** An answer as it was given on a page. */
export interface PageAnswer {
	/** Given once by the page: the same answer sent again is the same. */
	readonly key: string;
	readonly taskId: string;
	readonly personId: string;
	readonly means: "reading" | "done" | "cannot" | "later";
	/** What stands in the field. */
	readonly reading: string;
	/** Why it can't be done, in a word of the page. */
	readonly because: string;
	/** When she answered, where the phone kept it for a while; never believed to lie ahead, or before the task. */
	readonly answeredAtMs: number | null;
}

export type PageOutcome =
	| "accepted"
	| "refused"
	| "unclear"
	| "not the assignee's"
	| "closed already"
	| "no open task"
	| "put off"
	| "not put off";

export interface PageAnswered {
	readonly outcome: PageOutcome;
	/** True where the same had come before: nothing was changed. */
	readonly repeated: boolean;
	/** What is told to whoever answered, where the answer says more than its outcome. */
	readonly tell?: Pick<Telling, "text" | "fill">;
}

interface Asked {
	readonly id: string;
	readonly code: string;
	readonly areaId: string;
	readonly assigneeId: string | null;
	readonly state: string;
	readonly openedAtMs: number;
}

/** Replies that came by a page stand among the others under this channel. */
const CHANNEL = "page";

/** Takes what is answered on pages. Everything is kept, and each answer counts once, however often it is sent. */
export class PageAnswers {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly answers: Answers,
		private readonly kinds: DutyKinds,
		private readonly wake: Wake,
	) {}

	/** @returns what became of it; what isn't taken is kept too, and changes nothing */
	take(given: PageAnswer): Promise<PageAnswered> {
		return this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			const id = this.ids.next();
			const [task] = await tx.query<Asked>("SELECT id, code, area_id, assignee_id, state, opened_at_ms FROM task WHERE id = $1", [
				given.taskId,
			]);
			const said = given.means === "reading" ? given.reading : given.means === "cannot" ? `cannot ${given.because}` : given.means;
			const body = `${task?.code ?? "-"} ${said}`.trim().slice(0, 200);
			const isNew = await tx.affected(
				`INSERT INTO reply (id, channel, channel_message_id, from_address, body, received_at_ms, person_id, task_id, outcome)
				 VALUES ($1, $2, $3, $4, $5, $6, $7, $8, 'received') ON CONFLICT (channel, channel_message_id) DO NOTHING`,
				[id, CHANNEL, `${given.personId} ${given.key}`, CHANNEL, body, nowMs, given.personId, task?.id ?? null],
			);
			if (isNew === 0) return this.before(tx, given);
			const answered = await this.judged(tx, given, task, nowMs);
			await tx.affected("UPDATE reply SET outcome = $2, answer = $3 WHERE id = $1", [
				id,
				answered.outcome,
				answered.tell?.text ?? null,
			]);
			await record(tx, this.ids, [
				{
					atMs: nowMs,
					actor: given.personId,
					action: `reply ${answered.outcome}`,
					subjectKind: "reply",
					subjectId: id,
					areaId: task?.areaId ?? null,
					detail: task ? { taskId: task.id, code: task.code } : {},
				},
			]);
			return answered;
		});
	}

	private async before(tx: Transaction, { key, personId }: PageAnswer): Promise<PageAnswered> {
		const [kept] = await tx.query<{ outcome: PageOutcome }>(
			"SELECT outcome FROM reply WHERE channel = $1 AND channel_message_id = $2",
			[CHANNEL, `${personId} ${key}`],
		);
		return { outcome: kept?.outcome ?? "no open task", repeated: true };
	}

	private async judged(tx: Transaction, given: PageAnswer, task: Asked | undefined, nowMs: number): Promise<PageAnswered> {
		const is = (outcome: PageOutcome, tell?: PageAnswered["tell"]) => ({ outcome, repeated: false, ...(tell && { tell }) });
		if (!task) return is("no open task");
		if (task.assigneeId !== given.personId) return is("not the assignee's");
		if (task.state !== "open") return is("closed already");
		if (given.means === "later") {
			const { ids, kinds, wake } = this;
			const on = await putOff(tx, { taskId: task.id, personId: given.personId, ids, kinds, wake, nowMs });
			return on === undefined ? is("not put off") : is("put off", { text: "reply.later", fill: { code: task.code, on } });
		}
		const answer = answerOf(given, task, nowMs);
		if (!answer) return is("unclear");
		try {
			const taken = await this.answers.take(task.id, answer, given.personId);
			return is(taken.accepted ? "accepted" : "refused", {
				text: taken.tell.text,
				fill: { ...taken.tell.fill, code: task.code },
			});
		} catch (error) {
			if (error instanceof InputError && error.code === "task-closed") return is("closed already");
			throw error;
		}
	}
}

/** @returns none where what stands in the field isn't one number: it is asked for again, never guessed */
function answerOf({ means, reading, because, answeredAtMs }: PageAnswer, task: Asked, nowMs: number): TaskAnswer | undefined {
	if (means === "done") return { kind: "done" };
	if (means === "cannot") return { kind: "cannot", ...(because && { because }) };
	const parsed = parsedAnswer(`${task.code} ${reading}`);
	if (parsed.kind !== "reading") return undefined;
	const takenAtMs = Math.min(nowMs, Math.max(task.openedAtMs, answeredAtMs ?? nowMs));
	return { kind: "reading", reading: `${parsed.value}${parsed.isOpenTop ? "+" : ""}`, takenAtMs };
}
