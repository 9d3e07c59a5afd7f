import { DefectError } from "../errors/errors.js";
import type { Log } from "../log/log.js";
import { currentPolicy } from "../programme/policy.js";
import type { Store } from "../store/store.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import type { Randomness } from "../time/randomness.js";
import { Backlog } from "./backlog.js";
import { Batch, type Carrying } from "./batch.js";
import type { Notifiers } from "./channels/registry.js";
import { type CircuitState, Circuits } from "./circuits.js";
import type { Lane } from "./claim.js";
import { DispatchBook } from "./dispatch-book.js";
import { Pace } from "./pace.js";
import { SendSlots } from "./send-slots.js";
import { Slots } from "./slots.js";
import { hasCatalogue } from "./texts.js";
import { Tries } from "./tries.js";
import { Turns } from "./turns.js";

/** How messages are sent. */
export interface DispatcherOptions {
	/** How long a claim holds; longer than a send may take. */
	readonly leaseMs: number;
	readonly sendTimeoutMs: number;
	/** Failed tries on one channel at which it is given up. */
	readonly sendTries: number;
	/** Sends at once in this process; urgent messages have a quarter more of their own. 1: one at a time, urgent ones among them. */
	readonly sendConcurrency: number;
	/** Messages a claim takes at most, 1 to 500; left out: 100. */
	readonly batchSize?: number;
	/** Failures for now in a row after which a channel is left alone for a while; left out: it never is. */
	readonly circuitFailures?: number;
	/** Messages a second by channel, of all processes together; a channel that isn't named has no limit. */
	readonly sendRates?: Readonly<Record<string, number>>;
}

/** So often urgent messages are looked for while others fill every place. */
const URGENT_LOOK_MS = 500;
const LANES: readonly Lane[] = ["urgent", "bulk"];

/** What the dispatcher works with. */
export interface DispatcherParts {
	readonly store: Store;
	readonly clock: Clock;
	readonly randomness: Randomness;
	readonly ids: Ids;
	readonly notifiers: Notifiers;
	readonly log: Log;
}

/**
 * Carries messages from the outbox to people. Any number of them may work on one database: what one has claimed no other sends,
 * until its lease runs out. A message goes out at least once; twice only where a crash or a time-out hid a channel's answer.
 */
export class Dispatcher {
	private readonly carrying: Readonly<Record<Lane, Carrying>>;
	private readonly circuits: Circuits;
	private isStopping = false;
	private readonly batchSize: number;
	private readonly atWork = new Set<Promise<unknown>>();
	private calls = 0;
	private readonly running: Partial<Record<Lane, Promise<void>>> = {};
	/** Lanes that found nothing while messages were on their way: some may have been waiting for those. */
	private readonly foundNothing = new Set<Lane>();

	constructor(
		private readonly parts: DispatcherParts,
		private readonly options: DispatcherOptions,
	) {
		const { leaseMs, sendTimeoutMs, sendTries, sendConcurrency, batchSize = 100, circuitFailures, sendRates } = options;
		if (leaseMs <= sendTimeoutMs) throw new DefectError("a lease must be longer than a send may take, or it is sent twice");
		this.batchSize = batchSize;
		this.circuits = new Circuits(circuitFailures, sendTimeoutMs, parts.randomness);
		const stopping = () => this.isStopping;
		const shared = {
			...parts,
			book: new DispatchBook(parts.store, parts.ids, [...parts.notifiers.keys()]),
			circuits: this.circuits,
			pace: new Pace(sendRates ?? {}, new SendSlots(parts.store)),
			alone: sendConcurrency === 1 ? new Slots(1) : undefined,
			tries: new Tries(sendTimeoutMs),
			turns: new Turns(),
			sendTries,
			sendTimeoutMs,
			heldUntilMs: new Map<string, number>(),
		};
		const lane = (sendsAtOnce: number): Carrying => ({
			...shared,
			backlog: new Backlog(batchSize),
			slots: new Slots(sendsAtOnce),
			get isStopping() {
				return stopping();
			},
		});
		// A channel that hangs holds up what is sent through it, and no urgent message behind that.
		this.carrying = { urgent: lane(Math.max(1, Math.round(sendConcurrency / 4))), bulk: lane(sendConcurrency) };
	}

	/**
	 * Claims what is ready, at most one batch, and sends it.
	 * @returns how many messages were claimed, once each has an outcome; 0: nothing was ready, or it is stopping
	 */
	dispatchReady(): Promise<number> {
		return this.tracked(this.oneBatch());
	}

	/** @returns whether this process tries each channel at the moment */
	circuitStates(): { readonly channel: string; readonly circuit: CircuitState }[] {
		return [...this.parts.notifiers.keys()].map((channel) => ({ channel, circuit: this.circuits.state(channel) }));
	}

	/**
	 * Claims and sends until nothing is ready any more; the last sends may still be on their way then (see `settled`).
	 * A batch is claimed while the one before is being recorded, but only when less than a batch waits for its turn to be sent:
	 * a channel that is stuck holds up what was claimed for it, and nothing behind it.
	 */
	async dispatchAll(): Promise<void> {
		this.calls++;
		await Promise.all(
			LANES.map((lane) => {
				this.running[lane] ??= this.run(lane);
				return this.running[lane];
			}),
		);
	}

	/** Resolves when nothing that was claimed until now is on its way any more. */
	async settled(): Promise<void> {
		// What came after another message for the same person is looked for when that one has ended.
		for (;;) {
			const work = [...Object.values(this.running), ...this.atWork];
			if (work.length === 0) return;
			await Promise.allSettled(work);
		}
	}

	/** Claims nothing any more, gives back what hasn't begun, and waits for the sends that have. */
	async stop(withinMs: number): Promise<void> {
		this.isStopping = true;
		let timer: NodeJS.Timeout | undefined;
		const timeIsUp = new Promise<void>((resolve) => {
			timer = setTimeout(resolve, withinMs);
		});
		await Promise.race([this.settled(), timeIsUp]);
		clearTimeout(timer);
	}

	private async run(lane: Lane): Promise<void> {
		try {
			for (;;) {
				// Who calls while this runs may know of a message that the last look came too early for.
				const { calls } = this;
				if (lane === "bulk") await this.roomForBulk();
				else await this.carrying.urgent.backlog.room();
				const batch = await this.claimed(lane, this.batchSize);
				if (batch) void this.tracked(this.carried(lane, batch));
				else if (calls === this.calls) {
					if (this.atWork.size > 0) this.foundNothing.add(lane);
					return;
				}
			}
		} finally {
			delete this.running[lane];
		}
	}

	private async carried(lane: Lane, batch: Batch): Promise<void> {
		await batch.carry();
		if (this.foundNothing.delete(lane)) this.look(lane);
	}

	/** What goes wrong there goes wrong at the next look too, and is told then. */
	private look(lane: Lane): void {
		if (this.isStopping) return;
		this.running[lane] ??= this.run(lane);
		this.running[lane].catch(() => undefined);
	}

	/** Who wakes the dispatcher waits until it has done: while the bulk goes, it looks for urgent messages by itself. */
	private async roomForBulk(): Promise<void> {
		const room = this.carrying.bulk.backlog.room().then(() => true);
		for (let hasRoom = false; !hasRoom; ) {
			this.look("urgent");
			let timer: NodeJS.Timeout | undefined;
			const pause = new Promise<false>((resolve) => {
				timer = setTimeout(resolve, URGENT_LOOK_MS, false);
			});
			hasRoom = await Promise.race([room, pause]);
			clearTimeout(timer);
		}
	}

	private async oneBatch(): Promise<number> {
		const urgent = await this.claimed("urgent", this.batchSize);
		const room = this.batchSize - (urgent?.size ?? 0);
		const bulk = room > 0 ? await this.claimed("bulk", room) : undefined;
		await Promise.all([urgent?.carry(), bulk?.carry()]);
		return (urgent?.size ?? 0) + (bulk?.size ?? 0);
	}

	private async claimed(lane: Lane, most: number): Promise<Batch | undefined> {
		const { parts, options } = this;
		const carrying = this.carrying[lane];
		if (this.isStopping) return undefined;
		const nowMs = parts.clock.nowMs();
		const untilMs = nowMs + options.leaseMs;
		const messages = await carrying.book.claim(nowMs, untilMs, most, lane);
		if (messages.length === 0) return undefined;
		const allSpoken = messages.every(({ language }) => hasCatalogue(language));
		const fallbackLanguage = allSpoken ? "en" : (await currentPolicy(parts.store)).language;
		return new Batch(carrying, messages, untilMs, fallbackLanguage);
	}

	private async tracked<T>(work: Promise<T>): Promise<T> {
		this.atWork.add(work);
		try {
			return await work;
		} finally {
			this.atWork.delete(work);
		}
	}
}
