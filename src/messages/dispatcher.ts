import { DefectError } from "../errors/errors.js";
import type { Log } from "../log/log.js";
import { currentPolicy } from "../programme/policy.js";
import type { Store } from "../store/store.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import type { Randomness } from "../time/randomness.js";
import { Batch, type Carrying } from "./batch.js";
import type { Notifiers } from "./channels/registry.js";
import { claimReady } from "./claim.js";
import { OutcomeBook } from "./outcome-book.js";
import { Slots } from "./slots.js";
import { hasCatalogue } from "./texts.js";
import { Tries } from "./tries.js";

/** How messages are sent. */
export interface DispatcherOptions {
	/** How long a claim holds; longer than a send may take. */
	readonly leaseMs: number;
	readonly sendTimeoutMs: number;
	/** Failed tries on one channel at which it is given up. */
	readonly sendTries: number;
	/** Sends at once in this process. */
	readonly sendConcurrency: number;
	/** Messages a claim takes at most, 1 to 500; left out: 100. */
	readonly batchSize?: number;
}

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
	private readonly carrying: Carrying;
	private readonly atWork = new Set<Promise<number>>();

	constructor(
		private readonly parts: DispatcherParts,
		private readonly options: DispatcherOptions,
	) {
		const { leaseMs, sendTimeoutMs, sendTries, sendConcurrency } = options;
		if (leaseMs <= sendTimeoutMs) throw new DefectError("a lease must be longer than a send may take, or it is sent twice");
		this.carrying = {
			...parts,
			book: new OutcomeBook(parts.store, parts.ids),
			slots: new Slots(sendConcurrency),
			tries: new Tries(sendTimeoutMs),
			sendTries,
			sendTimeoutMs,
			heldUntilMs: new Map(),
			isStopping: false,
		};
	}

	/**
	 * Claims what is ready, at most one batch, and sends it.
	 * @returns how many messages were claimed; 0: nothing was ready, or it is stopping
	 */
	async dispatchReady(): Promise<number> {
		if (this.carrying.isStopping) return 0;
		const batch = this.batch();
		this.atWork.add(batch);
		try {
			return await batch;
		} finally {
			this.atWork.delete(batch);
		}
	}

	/** Claims nothing any more, gives back what hasn't begun, and waits for the sends that have. */
	async stop(withinMs: number): Promise<void> {
		this.carrying.isStopping = true;
		let timer: NodeJS.Timeout | undefined;
		const timeIsUp = new Promise<void>((resolve) => {
			timer = setTimeout(resolve, withinMs);
		});
		await Promise.race([Promise.allSettled([...this.atWork]), timeIsUp]);
		clearTimeout(timer);
	}

	private async batch(): Promise<number> {
		const { store, clock } = this.parts;
		const nowMs = clock.nowMs();
		const untilMs = nowMs + this.options.leaseMs;
		const messages = await claimReady(store, nowMs, untilMs, this.options.batchSize ?? 100);
		if (messages.length === 0) return 0;
		const fallbackLanguage = messages.every(({ language }) => hasCatalogue(language))
			? "en"
			: (await currentPolicy(store)).language;
		await new Batch(this.carrying, messages, untilMs, fallbackLanguage).carry();
		return messages.length;
	}
}
