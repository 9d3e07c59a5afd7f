import type { Log } from "../log/log.js";
import type { WakeQueue } from "../queue/wake-queue.js";
import type { Store } from "../store/store.js";
import type { Clock } from "../time/clock.js";
import type { Dispatcher } from "./dispatcher.js";
import { hintsFor } from "./wake.js";

export interface CourierParts {
	readonly store: Store;
	readonly clock: Clock;
	readonly queue: WakeQueue;
	readonly dispatcher: Pick<Dispatcher, "dispatchAll" | "stop">;
	readonly log: Log;
}

export interface CourierOptions {
	/** How often the outbox is looked through for what no hint has told of. */
	readonly dispatchMs: number;
	/** How long an orderly stop waits for sends. */
	readonly stopMs: number;
	readonly queue: "in-process" | "bullmq";
}

/** Which parts of the work this process does. */
export interface CourierRoles {
	/** Dispatches messages. */
	readonly works: boolean;
	/** Gives hints again for what waits in the outbox. */
	readonly requeues: boolean;
}

/** With another process giving hints, whoever dispatches still looks for himself, so many times more rarely. */
const RARELY = 10;
/** Hints that one look gives at most: 100 messages each. */
const MOST_HINTS = 200;

/**
 * Keeps messages going out: by hints as they come, and by looking through the outbox, which is the truth.
 * Whatever becomes of the queue, what is ready goes out.
 */
export class Courier {
	private readonly timers = new Set<NodeJS.Timeout>();
	private readonly looks = new Set<Promise<void>>();
	private stopped = true;

	constructor(
		private readonly parts: CourierParts,
		private readonly options: CourierOptions,
	) {}

	async start({ works, requeues }: CourierRoles): Promise<void> {
		this.stopped = false;
		const apart = this.options.queue === "bullmq";
		if (works) {
			const { dispatcher } = this.parts;
			await this.parts.queue.start(() => dispatcher.dispatchAll());
			this.every(apart ? this.options.dispatchMs * RARELY : this.options.dispatchMs, () => dispatcher.dispatchAll());
		}
		if (requeues && apart) this.every(this.options.dispatchMs, () => this.requeue());
	}

	/** Claims nothing new and waits for what is on its way. */
	async stop(): Promise<void> {
		this.stopped = true;
		for (const timer of this.timers) clearTimeout(timer);
		await this.parts.dispatcher.stop(this.options.stopMs);
		await Promise.allSettled([...this.looks]);
	}

	/** Gives hints for what is ready and waits: what was queued in a queue that forgot is queued again. */
	async requeue(): Promise<void> {
		const ready = await this.parts.store.query<{ id: string }>(
			"SELECT id FROM message WHERE next_try_at_ms <= $1 ORDER BY next_try_at_ms LIMIT $2",
			[this.parts.clock.nowMs(), MOST_HINTS * 100],
		);
		this.parts.queue.wake(hintsFor(ready.map(({ id }) => id)));
	}

	private every(intervalMs: number, look: () => Promise<void>): void {
		const next = () => {
			if (this.stopped) return;
			const timer = setTimeout(() => {
				this.timers.delete(timer);
				const at = look()
					.catch((error: unknown) =>
						this.parts.log.warn({ err: error }, "the outbox could not be looked through; it is tried again"),
					)
					.finally(() => {
						this.looks.delete(at);
						next();
					});
				this.looks.add(at);
			}, intervalMs);
			this.timers.add(timer);
		};
		next();
	}
}
