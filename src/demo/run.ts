import type { Answers } from "../duties/answers.js";
import type { Escalation } from "../duties/escalation.js";
import type { DutyKinds } from "../duties/kinds.js";
import type { Replies } from "../duties/replies.js";
import type { Sweep } from "../duties/sweep.js";
import { InputError } from "../errors/errors.js";
import type { Dispatcher } from "../messages/dispatcher.js";
import { type Delivery, Notifier, type Outgoing } from "../messages/notifier.js";
import type { Forecast } from "../stock/forecast.js";
import type { Store } from "../store/store.js";
import { DAY_MS, MINUTE_MS, type VirtualClock } from "../time/clock.js";
import { localDateOf } from "../time/local.js";
import type { District } from "./district.js";
import { DEMO_TIME_ZONE } from "./places.js";
import type { TimelineEvent } from "./timeline.js";
import { type Reply, type SimulatedPeople, simulatedPeople } from "./volunteers.js";

/** The program's own services: the demonstration adds nothing to them but people who answer. */
export interface DemoServices {
	readonly store: Store;
	readonly clock: VirtualClock;
	readonly kinds: DutyKinds;
	readonly sweep: Sweep;
	readonly escalation: Escalation;
	readonly dispatcher: Dispatcher;
	readonly replies: Replies;
	readonly answers: Answers;
}

/** Between two looks of the virtual clock. */
const STEP_MS = 10 * MINUTE_MS;

/** A channel to simulated people: it keeps what arrived, and refuses for whoever can't be reached. */
export class DemoNotifier extends Notifier {
	readonly name = "demo";
	readonly arrived: Outgoing[] = [];
	readonly refused: Outgoing[] = [];

	private byHand = false;

	/** @param shown what carries messages once the simulated days are over */
	constructor(
		private readonly people: Pick<SimulatedPeople, "reaches">,
		private readonly shown: Notifier,
	) {
		super();
	}

	/** From now on nobody answers by herself: messages are shown to whoever tries the program by hand. */
	goOnByHand(): void {
		this.byHand = true;
	}

	async send(message: Outgoing, signal: AbortSignal): Promise<Delivery> {
		if (this.byHand) return this.shown.send(message, signal);
		if (this.people.reaches(message.recipient.personId)) {
			this.arrived.push(message);
			return { kind: "accepted", answer: "shown on the simulated phone" };
		}
		this.refused.push(message);
		return { kind: "refused", reason: "the simulated phone is switched off", forGood: false };
	}
}

interface Expected {
	readonly atMs: number;
	readonly reply: Reply;
	readonly taskId: string;
	readonly personId: string;
}

/** Lets days go by on the virtual clock, through the real services, and tells what happened. */
export class DemoRun {
	private readonly people: SimulatedPeople;
	private readonly names: ReadonlyMap<string, { name: string; phone: string | null }>;
	private expected: Expected[] = [];
	private received = 0;

	constructor(
		private readonly services: DemoServices,
		private readonly notifier: DemoNotifier,
		private readonly district: District,
		private readonly happened: (event: TimelineEvent) => void,
	) {
		this.people = simulatedPeople(district);
		this.names = new Map(district.people.map((person) => [person.id, { name: person.name, phone: person.phoneE164 }]));
	}

	/** @param untilMs virtual instant at which the days end */
	async until(untilMs: number): Promise<void> {
		const { clock, sweep, escalation, dispatcher } = this.services;
		while (clock.nowMs() < untilMs) {
			clock.moveTo(Math.min(untilMs, clock.nowMs() + STEP_MS));
			await this.takeReplies();
			await sweep.openDue();
			await escalation.climb();
			while ((await dispatcher.dispatchReady()) > 0);
			await this.lookAtPhones();
		}
	}

	private async lookAtPhones(): Promise<void> {
		const nowMs = this.services.clock.nowMs();
		for (const message of this.notifier.refused.splice(0)) {
			const { name } = message.recipient;
			this.happened({
				atMs: nowMs,
				kind: "failed",
				who: name,
				text: message.text,
				why: "the phone is switched off; it is tried again, later each time",
			});
		}
		for (const message of this.notifier.arrived.splice(0)) await this.arrived(message, nowMs);
	}

	private async arrived(message: Outgoing, nowMs: number): Promise<void> {
		const [row] = await this.services.store.query<{ text: string }>("SELECT text FROM message WHERE id = $1", [
			message.messageId,
		]);
		const step = stepOf(row?.text ?? "");
		const task = message.taskId ? await this.taskOf(message.taskId) : undefined;
		const why = task && step === "first" ? this.services.kinds.named(task.kind).instructions(task.brief).why : undefined;
		const kind = step === "supervisor" ? "escalated" : "told";
		this.happened({ atMs: nowMs, kind, who: message.recipient.name, text: message.text, ...(why ? { why } : {}) });
		const jar = task && this.district.batches.find(({ id }) => id === task.subjectId);
		if (!task || !jar || !step) return;
		const asked = {
			kind: "strength",
			jar,
			sampleMl: Number(task.brief["sampleMl"]),
			madeUpToL: Number(task.brief["waterL"]),
		} as const;
		const { personId } = message.recipient;
		for (const reply of this.people.repliesTo({ recipientId: personId, code: task.code, step, asked }, nowMs))
			this.expected.push({ atMs: nowMs + reply.afterMs, reply, taskId: task.id, personId });
	}

	private async takeReplies(): Promise<void> {
		const nowMs = this.services.clock.nowMs();
		const due = this.expected.filter(({ atMs }) => atMs <= nowMs).sort((a, b) => a.atMs - b.atMs);
		this.expected = this.expected.filter(({ atMs }) => atMs > nowMs);
		for (const answer of due) await this.take(answer);
	}

	private async take({ reply, taskId, personId, atMs }: Expected): Promise<void> {
		const person = this.names.get(personId);
		const before = await this.forecastOf(taskId);
		const outcome =
			reply.via === "visit" ? await this.visited(taskId, personId, reply) : await this.texted(reply, person?.phone ?? "");
		const where = reply.via === "visit" ? "entered at the office" : "by text";
		this.happened({ atMs, kind: "answered", who: person?.name ?? personId, text: `"${reply.body}" (${where}): ${outcome}` });
		const after = await this.forecastOf(taskId);
		if (outcome === "accepted" && before && after) this.happened(changedBy(before, after, reply, this.services.clock.nowMs()));
	}

	private async texted(reply: Reply, fromAddress: string): Promise<string> {
		this.received += 1;
		const channelMessageId = `demo-${this.received}`;
		return (await this.services.replies.receive({ channel: "demo", channelMessageId, fromAddress, body: reply.body })).outcome;
	}

	private async visited(taskId: string, personId: string, reply: Reply): Promise<string> {
		if (reply.reading === null) return "unclear";
		try {
			const answer = { kind: "reading", reading: reply.reading, takenAtMs: this.services.clock.nowMs() } as const;
			return (await this.services.answers.take(taskId, answer, personId)).accepted ? "accepted" : "refused";
		} catch (error) {
			if (error instanceof InputError && error.code === "task-closed") return "closed already";
			throw error;
		}
	}

	private async taskOf(
		id: string,
	): Promise<{ id: string; code: string; kind: string; subjectId: string; brief: Record<string, string | number> } | undefined> {
		const [task] = await this.services.store.query<{ id: string; code: string; kind: string; subjectId: string; brief: string }>(
			"SELECT id, code, kind, subject_id, brief FROM task WHERE id = $1",
			[id],
		);
		return task && { ...task, brief: JSON.parse(task.brief) };
	}

	private async forecastOf(taskId: string): Promise<{ code: string; forecast: Forecast } | undefined> {
		const [row] = await this.services.store.query<{ code: string; forecast: string }>(
			"SELECT b.code, b.forecast FROM task t JOIN batch b ON b.id = t.subject_id WHERE t.id = $1",
			[taskId],
		);
		return row && { code: row.code, forecast: JSON.parse(row.forecast) as Forecast };
	}
}

/** @returns the instant at which a demonstration of so many days begins, so that it ends now */
export function demoStartMs(nowMs: number, days: number): number {
	return Math.floor(nowMs / MINUTE_MS) * MINUTE_MS - days * DAY_MS;
}

function stepOf(text: string): "first" | "again" | "supervisor" | undefined {
	const step = /^retest\.(first|again|supervisor)$/.exec(text)?.[1];
	return step as "first" | "again" | "supervisor" | undefined;
}

function changedBy(
	before: { forecast: Forecast },
	after: { code: string; forecast: Forecast },
	reply: Reply,
	atMs: number,
): TimelineEvent {
	const shown = ({ now }: Forecast) =>
		`${now.medianGPerL.toFixed(1)} g/L (${now.lowGPerL.toFixed(1)}-${now.highGPerL.toFixed(1)})`;
	const expected = before.forecast.atRetest ?? before.forecast.now;
	const next = after.forecast.retestAtMs;
	return {
		atMs,
		kind: "changed",
		who: after.code,
		text: `read ${reply.reading ?? "-"}; expected ${expected.medianGPerL.toFixed(1)} g/L, now ${shown(after.forecast)}`,
		why:
			next === null
				? "too weak for drinking water: no test is asked for any more"
				: `next test on ${localDateOf(next, DEMO_TIME_ZONE)}`,
	};
}
