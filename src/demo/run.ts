import { InputError } from "../errors/errors.js";
import type { Outgoing } from "../messages/notifier.js";
import { DAY_MS, MINUTE_MS } from "../time/clock.js";
import { demoActs } from "./acts/list.js";
import type { District } from "./district.js";
import type { DemoDuty, DemoTask, Seen } from "./duties/duty.js";
import { demoDuties } from "./duties/list.js";
import type { DemoNotifier } from "./notifier.js";
import type { DemoServices } from "./services.js";
import type { TimelineEvent } from "./timeline.js";
import { type ReachedMessage, type Reply, type SimulatedPeople, simulatedPeople } from "./volunteers.js";

/** Between two looks of the virtual clock. */
const STEP_MS = 10 * MINUTE_MS;

interface Expected {
	readonly atMs: number;
	readonly reply: Reply;
	readonly task: DemoTask;
	readonly duty: DemoDuty;
	readonly personId: string;
}

/** Lets days go by on the virtual clock, through the real services, and tells what happened. */
export class DemoRun {
	private readonly people: SimulatedPeople;
	private readonly names: ReadonlyMap<string, { name: string; phone: string | null }>;
	private readonly duties = new Map(demoDuties.map((duty) => [duty.kind, duty]));
	private readonly acting;
	private readonly seen: Seen;
	private expected: Expected[] = [];
	private received = 0;

	constructor(
		private readonly services: DemoServices,
		private readonly notifier: DemoNotifier,
		district: District,
		private readonly happened: (event: TimelineEvent) => void,
	) {
		this.people = simulatedPeople(district);
		this.names = new Map(district.people.map((person) => [person.id, { name: person.name, phone: person.phoneE164 }]));
		this.seen = { store: services.store, clock: services.clock, district };
		this.acting = demoActs.map((acts) => acts(services, district));
	}

	/** @param untilMs virtual instant at which the days end */
	async until(untilMs: number): Promise<void> {
		const { clock, sweep, escalation, dispatcher } = this.services;
		while (clock.nowMs() < untilMs) {
			const fromMs = clock.nowMs();
			clock.moveTo(Math.min(untilMs, fromMs + STEP_MS));
			await this.act(fromMs, clock.nowMs());
			await this.takeReplies();
			await escalation.climb();
			await sweep.openDue();
			while ((await dispatcher.dispatchReady()) > 0);
			await this.lookAtPhones();
		}
	}

	private async act(fromMs: number, untilMs: number): Promise<void> {
		const acts = (await Promise.all(this.acting.map((acting) => acting(fromMs, untilMs)))).flat();
		for (const act of acts.sort((a, b) => a.atMs - b.atMs)) for (const event of await act.do()) this.happened(event);
	}

	private async lookAtPhones(): Promise<void> {
		const nowMs = this.services.clock.nowMs();
		for (const message of this.notifier.refused.splice(0)) await this.failed(message, nowMs);
		for (const message of this.notifier.arrived.splice(0)) await this.arrived(message, nowMs);
	}

	/** The first try that fails is told, and the last: those between say nothing new. */
	private async failed({ messageId, recipient, text }: Outgoing, atMs: number): Promise<void> {
		const [row] = await this.services.store.query<{ state: string; tries: number }>(
			"SELECT state, tries FROM message WHERE id = $1",
			[messageId],
		);
		const isGivenUp = row?.state === "failed";
		if (!isGivenUp && row && row.tries > 1) return;
		const why = isGivenUp
			? `given up after ${row.tries} tries; it is kept, and can be sent again`
			: "the phone is switched off; it is tried again, later each time";
		this.happened({ atMs, kind: "failed", who: recipient.name, text, why });
	}

	private async arrived(message: Outgoing, nowMs: number): Promise<void> {
		const { personId, name } = message.recipient;
		const told = await this.toldBy(message);
		const [only] = told;
		const why =
			only?.step === "first" && told.length === 1
				? this.services.kinds.named(only.task.kind).instructions(only.task.brief).why
				: undefined;
		const kind = only?.step === "supervisor" ? "escalated" : "told";
		this.happened({ atMs: nowMs, kind, who: name, text: message.text, ...(why ? { why } : {}) });
		for (const { task, step } of told) {
			const duty = this.duties.get(task.kind);
			const asked = duty && (await duty.asked(task, this.seen));
			if (!duty || !asked) continue;
			for (const reply of this.people.repliesTo({ recipientId: personId, code: task.code, step, asked }, nowMs))
				this.expected.push({ atMs: nowMs + reply.afterMs, reply, task, duty, personId });
		}
	}

	/** @returns the tasks that a message tells of, alone or together */
	private async toldBy({ messageId, taskId }: Outgoing): Promise<{ task: DemoTask; step: ReachedMessage["step"] }[]> {
		const rows = taskId
			? [{ id: messageId, taskId }]
			: await this.services.store.query<{ id: string; taskId: string }>(
					"SELECT id, task_id FROM message WHERE digest_id = $1 AND state = 'merged' ORDER BY created_at_ms, id",
					[messageId],
				);
		const told: { task: DemoTask; step: ReachedMessage["step"] }[] = [];
		for (const row of rows) {
			const task = await this.taskOf(row.taskId);
			const step = task && (await this.stepOf(task, row.id));
			if (task && step) told.push({ task, step });
		}
		return told;
	}

	private async takeReplies(): Promise<void> {
		const nowMs = this.services.clock.nowMs();
		const due = this.expected.filter(({ atMs }) => atMs <= nowMs).sort((a, b) => a.atMs - b.atMs);
		this.expected = this.expected.filter(({ atMs }) => atMs > nowMs);
		for (const answer of due) await this.take(answer);
	}

	private async take({ reply, task, duty, personId, atMs }: Expected): Promise<void> {
		const person = this.names.get(personId);
		const changed = await duty.beforeAnswer?.(task, this.seen);
		const outcome =
			reply.via === "visit" ? await this.visited(task.id, personId, reply) : await this.texted(reply, person?.phone ?? "");
		const where = reply.via === "visit" ? "entered at the office" : "by text";
		this.happened({ atMs, kind: "answered", who: person?.name ?? personId, text: `"${reply.body}" (${where}): ${outcome}` });
		const change = outcome === "accepted" ? await changed?.(reply) : undefined;
		if (change) this.happened(change);
	}

	private async texted(reply: Reply, fromAddress: string): Promise<string> {
		this.received += 1;
		const channelMessageId = `demo-${this.received}`;
		return (await this.services.replies.receive({ channel: "demo", channelMessageId, fromAddress, body: reply.body })).outcome;
	}

	private async visited(taskId: string, personId: string, { reading }: Reply): Promise<string> {
		try {
			const answer =
				reading === null
					? ({ kind: "done" } as const)
					: ({ kind: "reading", reading, takenAtMs: this.services.clock.nowMs() } as const);
			return (await this.services.answers.take(taskId, answer, personId)).accepted ? "accepted" : "refused";
		} catch (error) {
			if (error instanceof InputError && error.code === "task-closed") return "closed already";
			throw error;
		}
	}

	private async taskOf(id: string): Promise<DemoTask | undefined> {
		const [task] = await this.services.store.query<Omit<DemoTask, "brief"> & { brief: string }>(
			"SELECT id, code, kind, subject_id, brief FROM task WHERE id = $1",
			[id],
		);
		return task && { ...task, brief: JSON.parse(task.brief) };
	}

	private async stepOf({ kind }: DemoTask, messageId: string): Promise<ReachedMessage["step"] | undefined> {
		const [message] = await this.services.store.query<{ text: string }>("SELECT text FROM message WHERE id = $1", [messageId]);
		const { first, again, supervisor } = this.services.kinds.named(kind).texts;
		if (message?.text === first) return "first";
		if (message?.text === again) return "again";
		return message?.text === supervisor ? "supervisor" : undefined;
	}
}

/** @returns the instant at which a demonstration of so many days begins, so that it ends now */
export function demoStartMs(nowMs: number, days: number): number {
	return Math.floor(nowMs / MINUTE_MS) * MINUTE_MS - days * DAY_MS;
}
