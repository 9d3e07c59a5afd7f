import { DefectError, InputError, TransientError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { causesOf } from "../log/causes.js";
import type { Log } from "../log/log.js";
import { type ParsedAnswer, parsedAnswer } from "../messages/answers.js";
import type { Incoming } from "../messages/inbound/incoming.js";
import { type NewMessage, withdrawMessages } from "../messages/outbox.js";
import { post, type Wake } from "../messages/wake.js";
import { takeBackConsent } from "../programme/consent.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import { type Clock, DAY_MS } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { localDateOf } from "../time/local.js";
import type { Answers } from "./answers.js";
import type { TaskAnswer } from "./kind.js";
import type { DutyKinds } from "./kinds.js";
import { putOff } from "./put-off.js";
import { notBeforeMs, reachablePeople } from "./reachable.js";
import { type KnownTask, repeatedAnswer } from "./repeated-answer.js";
import { openTasksOf, type Sender, sendersOf, taskWithCode } from "./who-wrote.js";

export type ReplyOutcome =
	| "accepted"
	| "refused"
	| "unclear"
	| "help"
	| "stop"
	| "unknown number"
	| "not the assignee's"
	| "closed already"
	| "no open task"
	| "put off"
	| "not put off"
	| "failed";

export interface Received {
	readonly outcome: ReplyOutcome;
	/** True where the same message had come before: nothing was changed. */
	readonly repeated: boolean;
	readonly taskCode: string | null;
}

/** What can be an answer to a task. */
type Actionable = Extract<ParsedAnswer, { kind: "reading" }> | { readonly kind: "done" | "cannot"; readonly code?: string };

interface Verdict {
	readonly outcome: ReplyOutcome;
	readonly task?: KnownTask | undefined;
	readonly sender?: Sender | undefined;
	/** What is told to the sender; an accepted or refused answer is told by the kind of work itself. */
	readonly tell?: { readonly text: string; readonly fill: Readonly<Record<string, string | number>> };
	/** Told once, however often it comes. */
	readonly tellOnceAs?: string;
	readonly problem?: string;
}

/** Takes what people text back. Everything is kept; what is unclear changes nothing and is asked back. */
export class Replies {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly answers: Answers,
		private readonly kinds: DutyKinds,
		private readonly wake: Wake,
		private readonly log: Pick<Log, "error">,
	) {}

	/**
	 * Keeps a text, and then sees what it says: whatever goes wrong there, the text stays on file.
	 * @returns what became of it; "failed" where it is kept and a defect stood in the way of it
	 * @throws TransientError where the database is away: handed in again, the text is taken up where it was left
	 */
	async receive(incoming: Incoming): Promise<Received> {
		const nowMs = this.clock.nowMs();
		await this.store.work.run((tx) =>
			tx.affected(
				`INSERT INTO reply (id, channel, channel_message_id, from_address, body, received_at_ms, outcome) VALUES ($1, $2, $3, $4, $5, $6, 'received')
				 ON CONFLICT (channel, channel_message_id) DO NOTHING`,
				[this.ids.next(), incoming.channel, incoming.channelMessageId, incoming.fromAddress, incoming.body, nowMs],
			),
		);
		try {
			return await this.once(incoming, (tx, id) => this.understood(tx, id, incoming, nowMs));
		} catch (error) {
			if (error instanceof TransientError) throw error;
			this.log.error({ err: causesOf(error) }, "a text that came in is kept, but failed by a defect");
			return this.once(incoming, (tx, id) => this.failed(tx, id, incoming, error, nowMs));
		}
	}

	/** Does something with a kept text, if nothing has been done with it yet. */
	private once(incoming: Incoming, act: (tx: Transaction, replyId: string) => Promise<Received>): Promise<Received> {
		return this.store.work.run(async (tx) => {
			// The same text may be handed in twice at one moment: the second waits here for the first.
			const lock = tx.kind === "postgres" ? "FOR UPDATE OF r" : "";
			const [kept] = await tx.query<{ id: string; outcome: ReplyOutcome | "received"; taskId: string | null }>(
				`SELECT r.id, r.outcome, r.task_id FROM reply r WHERE r.channel = $1 AND r.channel_message_id = $2 ${lock}`,
				[incoming.channel, incoming.channelMessageId],
			);
			if (!kept) throw new DefectError("a text that was kept is gone");
			if (kept.outcome === "received") return act(tx, kept.id);
			const [task] = await tx.query<{ code: string }>("SELECT code FROM task WHERE id = $1", [kept.taskId]);
			return { outcome: kept.outcome, repeated: true, taskCode: task?.code ?? null };
		});
	}

	private async understood(tx: Transaction, id: string, incoming: Incoming, nowMs: number): Promise<Received> {
		const verdict = await this.judged(tx, incoming, nowMs);
		await this.keep(tx, id, verdict, nowMs);
		return { outcome: verdict.outcome, repeated: false, taskCode: verdict.task?.code ?? null };
	}

	/** Whoever wrote isn't left without an answer; that it failed stands in the ledger, why in the log. */
	private async failed(tx: Transaction, id: string, incoming: Incoming, error: unknown, nowMs: number): Promise<Received> {
		const [sender] = await sendersOf(tx, incoming);
		const problem = error instanceof Error ? error.name : "not an error";
		const tell = sender && { text: "reply.kept", fill: {} };
		await this.keep(tx, id, { outcome: "failed", sender, problem, ...(tell && { tell }) }, nowMs);
		return { outcome: "failed", repeated: false, taskCode: null };
	}

	private async judged(tx: Transaction, incoming: Incoming, nowMs: number): Promise<Verdict> {
		const senders = await sendersOf(tx, incoming);
		const first = senders[0];
		// Nothing is answered to a number that isn't on the list, not even that a code exists: it is looked at by a person. Anybody
		// can write under any number, and two machines that answer each other never end.
		if (!first) return { outcome: "unknown number" };
		const parsed = parsedAnswer(incoming.body);
		const open = await openTasksOf(tx, senders);
		const example = { example: `${open[0]?.code ?? "K7M4X"} 3` };
		if (parsed.kind === "help") return { outcome: "help", sender: first, tell: { text: "reply.help", fill: example } };
		if (parsed.kind === "stop") return this.stopped(tx, senders, nowMs);
		if (parsed.kind === "unclear")
			return { outcome: "unclear", sender: first, tell: { text: "reply.unclear", fill: example }, problem: parsed.why };
		const { code } = parsed;
		const task = code ? await taskWithCode(tx, code) : open.length === 1 ? open[0] : undefined;
		if (!task && !code && open.length > 1)
			return {
				outcome: "unclear",
				sender: first,
				tell: { text: "reply.unclear", fill: example },
				problem: "several tasks are open",
			};
		if (!task && !code) {
			const repeated = await repeatedAnswer(tx, senders, parsed, nowMs);
			if (repeated) return thanks(repeated, first);
		}
		if (!task) return { outcome: "no open task", sender: first, tell: { text: "reply.unclear", fill: example } };
		const sender = senders.find((person) => person.id === task.assigneeId);
		if (!sender)
			return { outcome: "not the assignee's", task, sender: first, tell: { text: "reply.notYours", fill: { code: task.code } } };
		if (task.state !== "open") {
			const repeated = await repeatedAnswer(tx, [sender], parsed, nowMs, task.id);
			return repeated ? thanks(repeated, sender) : closedAlready(task, sender);
		}
		if (parsed.kind === "later") return this.putOff(tx, task, sender, nowMs);
		return this.taken({ ...parsed, kind: parsed.kind } as Actionable, task, sender, nowMs);
	}

	private async putOff(tx: Transaction, task: KnownTask, sender: Sender, nowMs: number): Promise<Verdict> {
		const { ids, kinds, wake } = this;
		const on = await putOff(tx, { taskId: task.id, personId: sender.id, ids, kinds, wake, nowMs });
		return on === undefined
			? { outcome: "not put off", task, sender, tell: { text: "reply.notLater", fill: { code: task.code } } }
			: { outcome: "put off", task, sender, tell: { text: "reply.later", fill: { code: task.code, on } } };
	}

	/**
	 * Somebody whose text wasn't understood is asked back once a day; after that her supervisor sees to it. Two machines that answer
	 * each other would never end, and a person who is asked the same twice gives up.
	 */
	private async askedBack(tx: Transaction, replyId: string, sender: Sender, nowMs: number): Promise<boolean> {
		const [before] = await tx.query(
			"SELECT id FROM reply WHERE person_id = $1 AND answer = 'reply.unclear' AND received_at_ms > $2 AND id <> $3 LIMIT 1",
			[sender.id, nowMs - DAY_MS, replyId],
		);
		if (!before) return true;
		const supervisor = sender.supervisorId
			? (await reachablePeople(tx, [sender.supervisorId])).get(sender.supervisorId)
			: undefined;
		const key = `unclear.${sender.id}.${localDateOf(nowMs, supervisor?.timeZone ?? "UTC")}`;
		if (supervisor)
			await this.tell(tx, supervisor.id, "reply.unclear.supervisor", { name: sender.name }, key, notBeforeMs(supervisor, nowMs));
		return false;
	}

	/** From now on nothing is sent to this phone; the supervisors of those who share it are told, for work must go on. */
	private async stopped(tx: Transaction, senders: readonly Sender[], nowMs: number): Promise<Verdict> {
		for (const { id, name, supervisorId } of senders) {
			await takeBackConsent(tx, id, "messages", "by message", nowMs);
			await withdrawMessages(tx, "recipient_id", [id], nowMs);
			const supervisor = supervisorId ? (await reachablePeople(tx, [supervisorId])).get(supervisorId) : undefined;
			if (supervisor)
				await this.tell(tx, supervisor.id, "stop.supervisor", { name }, `stop.${id}.${nowMs}`, notBeforeMs(supervisor, nowMs));
		}
		return { outcome: "stop", sender: senders[0] as Sender };
	}

	private async tell(
		tx: Transaction,
		recipientId: string,
		text: string,
		fill: NewMessage["fill"],
		key: string,
		notBefore: number,
	) {
		const id = this.ids.next();
		const nowMs = this.clock.nowMs();
		const common = {
			id,
			idempotencyKey: key,
			taskId: null,
			recipientId,
			urgent: false,
			createdAtMs: nowMs,
			notBeforeMs: notBefore,
		};
		await post(tx, this.wake, [{ ...common, text, fill }]);
	}

	private async taken(parsed: Actionable, task: KnownTask, sender: Sender, nowMs: number): Promise<Verdict> {
		try {
			const answered = await this.answers.take(task.id, taskAnswer(parsed, nowMs), sender.id);
			return { outcome: answered.accepted ? "accepted" : "refused", task, sender };
		} catch (error) {
			if (error instanceof InputError && error.code === "task-closed") return closedAlready(task, sender);
			throw error;
		}
	}

	private async keep(tx: Transaction, id: string, verdict: Verdict, nowMs: number): Promise<void> {
		const { outcome, sender, task } = verdict;
		const isAskedBack = verdict.tell?.text !== "reply.unclear" || !sender || (await this.askedBack(tx, id, sender, nowMs));
		const tell = isAskedBack ? verdict.tell : undefined;
		await tx.affected("UPDATE reply SET person_id = $2, task_id = $3, outcome = $4, answer = $5 WHERE id = $1", [
			id,
			sender?.id ?? null,
			task?.id ?? null,
			outcome,
			tell?.text ?? null,
		]);
		await record(tx, this.ids, [
			{
				atMs: nowMs,
				actor: sender?.id ?? "unknown number",
				action: `reply ${outcome}`,
				subjectKind: "reply",
				subjectId: id,
				areaId: task?.areaId ?? null,
				detail: {
					...(task ? { taskId: task.id, code: task.code } : {}),
					...(verdict.problem ? { problem: verdict.problem } : {}),
				},
			},
		]);
		if (!tell || !sender) return;
		await this.tell(tx, sender.id, tell.text, tell.fill, verdict.tellOnceAs ?? `reply.${id}`, nowMs);
	}
}

function closedAlready(task: KnownTask, sender: Sender): Verdict {
	return { outcome: "closed already", task, sender, tell: { text: "reply.closed", fill: { code: task.code } } };
}

/** She sent her answer again, for fear that it was lost. */
function thanks(task: KnownTask, sender: Sender): Verdict {
	const tell = { text: "reply.thanksRepeat", fill: {} };
	return { outcome: "closed already", task, sender, tell, tellOnceAs: `repeated.${task.id}.${sender.id}` };
}

function taskAnswer(parsed: Actionable, nowMs: number): TaskAnswer {
	if (parsed.kind === "reading")
		return { kind: "reading", reading: `${parsed.value}${parsed.isOpenTop ? "+" : ""}`, takenAtMs: nowMs };
	return { kind: parsed.kind };
}
