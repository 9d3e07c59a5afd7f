import { Counter, collectDefaultMetrics, Gauge, Histogram, Registry } from "prom-client";
import type { Scheduler } from "../../duties/scheduler.js";
import { headOf, waitingOf } from "../../ledger/sealer.js";
import type { Dispatcher } from "../../messages/dispatcher.js";
import { failedByChannel, unknownReceipts } from "../../messages/failed-counts.js";
import type { Store } from "../../store/store.js";
import type { Clock } from "../../time/clock.js";
import { eventsBetween } from "./events.js";

/** What is written now bears the instant at which its unit of work began: younger ones may still be under way. */
const SETTLED_AFTER_MS = 10_000;

/**
 * What the service tells a monitoring system. No label names a person, a place or a number: there are few of each label, known beforehand.
 * What the database knows is read from its indexes when it is asked for, so that it is true whichever process is asked.
 */
export class Metrics {
	private readonly registry = new Registry();
	private readonly requestSeconds = new Histogram({
		name: "jarwatch_http_request_duration_seconds",
		help: "Time to answer a request",
		labelNames: ["method", "route", "status"],
		buckets: [0.005, 0.02, 0.1, 0.5, 2, 10],
		registers: [this.registry],
	});
	private readonly tasksOpened = new Counter({
		name: "jarwatch_tasks_opened_total",
		help: "Tasks that were ever opened",
		labelNames: ["kind"],
		registers: [this.registry],
	});
	private readonly messagesEnded = new Counter({
		name: "jarwatch_messages_total",
		help: "Messages since this process began, by what became of them; every process counts the same ones",
		labelNames: ["channel", "outcome"],
		registers: [this.registry],
	});
	private readonly answers = new Counter({
		name: "jarwatch_answers_total",
		help: "Texts that came in since this process began, by what became of them; every process counts the same ones",
		labelNames: ["result"],
		registers: [this.registry],
	});
	private readonly oldestOpenSeconds = this.gauge(
		"jarwatch_tasks_oldest_open_age_seconds",
		"For how long the oldest open task has been due; 0: none is open",
	);
	private readonly tasksOpen = this.gauge("jarwatch_tasks_open", "Open tasks", ["kind", "reminded"]);
	private readonly outbox = this.gauge("jarwatch_outbox_messages", "Messages that haven't ended", ["state"]);
	private readonly held = this.gauge(
		"jarwatch_messages_held",
		"Messages about work that wait for their time, or for another day's segments",
		["because"],
	);
	private readonly oldestDueSeconds = this.gauge(
		"jarwatch_outbox_oldest_due_age_seconds",
		"For how long the oldest message that may go has waited; 0: none waits",
	);
	private readonly failed = this.gauge("jarwatch_messages_failed", "Messages that were given up on every channel", ["channel"]);
	private readonly unknownReceipts = this.gauge(
		"jarwatch_receipts_unknown",
		"Receipts for something that isn't known here: many of them, and a gateway's receipts are set up wrongly",
		["channel"],
	);
	private readonly ledgerSealed = this.gauge("jarwatch_ledger_sealed_entries", "Entries of the ledger that stand in its chain");
	private readonly ledgerWaiting = this.gauge("jarwatch_ledger_waiting_entries", "Entries of the ledger that wait to be sealed");
	private readonly ledgerWaitingSeconds = this.gauge(
		"jarwatch_ledger_oldest_waiting_age_seconds",
		"For how long the oldest of them has waited; 0: none waits. Minutes mean that nobody seals",
	);
	private readonly databaseUp = this.gauge(
		"jarwatch_database_up",
		"1: the figures of the database are true; 0: it can't be reached",
	);
	private readonly channelUp = this.gauge(
		"jarwatch_channel_up",
		"1: this process sends through the channel; 0: it failed too often in a row and rests, or one message finds out whether it works",
		["channel"],
	);
	private readonly sweepAgeSeconds: Gauge | undefined;
	/** Events before it have been counted. */
	private countedUntilMs: number;

	/**
	 * @param scheduler absent where another process sweeps
	 * @param dispatcher absent where another process sends
	 */
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly scheduler: Pick<Scheduler, "sinceLastGoodMs" | "onSwept"> | undefined,
		private readonly dispatcher?: Pick<Dispatcher, "circuitStates">,
	) {
		collectDefaultMetrics({ register: this.registry });
		this.countedUntilMs = clock.nowMs();
		if (!scheduler) return;
		this.sweepAgeSeconds = this.gauge("jarwatch_sweep_age_seconds", "Since the last sweep that ended well; none: there was none");
		const sweepSeconds = new Histogram({
			name: "jarwatch_sweep_duration_seconds",
			help: "Time of a sweep that ended well: ladder, due work and digests",
			buckets: [0.005, 0.02, 0.1, 0.5, 2, 10, 60],
			registers: [this.registry],
		});
		scheduler.onSwept((seconds) => sweepSeconds.observe(seconds));
	}

	answered(method: string, route: string, status: number, seconds: number): void {
		this.requestSeconds.observe({ method, route, status }, seconds);
	}

	/** @returns everything in the text format of the monitoring system, and its media type */
	async text(): Promise<{ text: string; contentType: string }> {
		await this.readDatabase();
		const ageMs = this.scheduler?.sinceLastGoodMs();
		this.sweepAgeSeconds?.set(ageMs === undefined ? Number.NaN : ageMs / 1000);
		for (const { channel, circuit } of this.dispatcher?.circuitStates() ?? [])
			this.channelUp.set({ channel }, circuit === "closed" ? 1 : 0);
		return { text: await this.registry.metrics(), contentType: this.registry.contentType };
	}

	private async readDatabase(): Promise<void> {
		try {
			await Promise.all([this.readTasks(), this.readOutbox(), this.readFailures(), this.readLedger(), this.countEvents()]);
			this.databaseUp.set(1);
		} catch {
			this.databaseUp.set(0);
		}
	}

	private async readTasks(): Promise<void> {
		const [ever, open] = await Promise.all([
			this.store.query<{ kind: string; number: number }>("SELECT kind, count(*) AS number FROM task GROUP BY kind"),
			this.store.query<{ kind: string; reminded: number; number: number; oldestMs: number }>(
				`SELECT kind, CASE WHEN ladder_step > 0 THEN 1 ELSE 0 END AS reminded, count(*) AS number, min(due_at_ms) AS oldest_ms
				 FROM task WHERE state = 'open' GROUP BY 1, 2`,
			),
		]);
		this.oldestOpenSeconds.set(this.ageSeconds(open.length === 0 ? null : Math.min(...open.map(({ oldestMs }) => oldestMs))));
		this.tasksOpened.reset();
		for (const { kind, number } of ever) this.tasksOpened.inc({ kind }, number);
		this.tasksOpen.reset();
		for (const { kind, reminded, number } of open) this.tasksOpen.set({ kind, reminded: reminded === 1 ? "yes" : "no" }, number);
	}

	private async readLedger(): Promise<void> {
		const [head, waiting] = await Promise.all([headOf(this.store), waitingOf(this.store)]);
		this.ledgerSealed.set(head.position);
		this.ledgerWaiting.set(waiting.entries);
		this.ledgerWaitingSeconds.set(this.ageSeconds(waiting.oldestAtMs));
	}

	private async readOutbox(): Promise<void> {
		const nowMs = this.clock.nowMs();
		const [states, [oldest], held] = await Promise.all([
			this.store.query<{ state: string; number: number }>(
				"SELECT state, count(*) AS number FROM message WHERE next_try_at_ms IS NOT NULL GROUP BY state",
			),
			this.store.query<{ atMs: number | null }>("SELECT min(next_try_at_ms) AS at_ms FROM message WHERE next_try_at_ms <= $1", [
				nowMs,
			]),
			this.store.query<{ because: string; number: number }>(
				"SELECT COALESCE(held_because, 'time') AS because, count(*) AS number FROM message WHERE held_until_ms IS NOT NULL GROUP BY 1",
			),
		]);
		for (const because of ["time", "day", "month"]) this.held.set({ because }, 0);
		for (const { because, number } of held) this.held.set({ because }, number);
		for (const state of ["waiting", "claimed"]) this.outbox.set({ state }, 0);
		for (const { state, number } of states) this.outbox.set({ state }, number);
		this.oldestDueSeconds.set(this.ageSeconds(oldest?.atMs));
	}

	private ageSeconds(sinceMs: number | null | undefined): number {
		return sinceMs == null ? 0 : Math.max(0, this.clock.nowMs() - sinceMs) / 1000;
	}

	/** Asked twice at one moment, the second finds nothing left to count. */
	private async countEvents(): Promise<void> {
		const fromMs = this.countedUntilMs;
		const beforeMs = this.clock.nowMs() - SETTLED_AFTER_MS;
		if (beforeMs <= fromMs) return;
		this.countedUntilMs = beforeMs;
		try {
			const { messages, answers } = await eventsBetween(this.store, fromMs, beforeMs);
			for (const { channel, outcome, number } of messages)
				if (number > 0) this.messagesEnded.inc({ channel: channel ?? "none", outcome }, number);
			for (const { result, number } of answers) this.answers.inc({ result }, number);
		} catch (error) {
			this.countedUntilMs = fromMs;
			throw error;
		}
	}

	private async readFailures(): Promise<void> {
		const [failed, unknown] = await Promise.all([failedByChannel(this.store), unknownReceipts(this.store)]);
		this.failed.reset();
		for (const { channel, number } of failed) this.failed.set({ channel: channel ?? "none" }, number);
		this.unknownReceipts.reset();
		for (const { channel, number } of unknown) this.unknownReceipts.set({ channel }, number);
	}

	private gauge(name: string, help: string, labelNames: string[] = []): Gauge {
		return new Gauge({ name, help, labelNames, registers: [this.registry] });
	}
}
