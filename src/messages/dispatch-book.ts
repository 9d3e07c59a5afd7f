import { TransientError } from "../errors/errors.js";
import type { Store } from "../store/store.js";
import type { Ids } from "../time/ids.js";
import { type Claimed, claimAlone, claimReady, type Lane } from "./claim.js";
import type { Outcome } from "./outcome.js";
import { isPlain, recordAlone, recordOutcomes } from "./record.js";

/** Who wants to know whether outcomes were recorded. */
export interface Recorder {
	/** @param isKept false where the lease had run out and somebody else has claimed the message since */
	recorded(isKept: boolean): void;
	/** It couldn't be recorded: the message goes out again when its lease runs out. */
	lost(error: unknown): void;
}

/** More than this and others on SQLite would wait too long for their turn to write. */
const MOST_AT_ONCE = 500;

/** PostgreSQL keeps several at once, each on a connection of its own: an answer needn't wait until those before it are kept. */
const POSTGRES_WRITERS = 4;

/** With the database away, what was sent is worth patience: unrecorded it would be sent again. Meanwhile nobody can claim it. */
const PATIENCE_MS = 600_000;
/** Between two tries; the first, and the longest. */
const REST_MS = { first: 200, longest: 3200 } as const;

interface Entry {
	readonly outcome: Outcome;
	readonly recorder: Recorder;
	/** How often it couldn't be written, and since when, by the monotonic clock. */
	failures: number;
	failingSinceMs: number | undefined;
}

interface ClaimRequest {
	readonly lane: Lane;
	readonly nowMs: number;
	readonly untilMs: number;
	readonly most: number;
	readonly claimed: (messages: Claimed[]) => void;
	readonly failed: (error: unknown) => void;
}

/**
 * Writes all that a dispatcher has to write: claims, and outcomes, each as soon as it is known, because a crash between a channel's
 * answer and its record means a second message. What comes while all writers are busy goes together into the next turn of one.
 */
export class DispatchBook {
	private entries: Entry[] = [];
	private requests: ClaimRequest[] = [];
	private writing = 0;
	private isCalled = false;
	private readonly writers: number;

	constructor(
		private readonly store: Store,
		private readonly ids: Ids,
		/** Names of the channels there are. */
		private readonly configured: Iterable<string> = [],
	) {
		this.writers = store.kind === "postgres" ? POSTGRES_WRITERS : 1;
	}

	record(outcome: Outcome, recorder: Recorder): void {
		this.entries.push({ outcome, recorder, failures: 0, failingSinceMs: undefined });
		this.call();
	}

	/** @returns the messages that nobody else may send until the lease runs out; see `claimReady` */
	claim(nowMs: number, untilMs: number, most: number, lane: Lane): Promise<Claimed[]> {
		if (this.store.kind === "postgres") return claimAlone(this.store, nowMs, untilMs, most, lane);
		// SQLite writes one unit of work after the other: a claim goes with the outcomes that wait, and costs no turn at the disk.
		return new Promise((claimed, failed) => {
			this.requests.push({ lane, nowMs, untilMs, most, claimed, failed });
			this.call();
		});
	}

	private call(): void {
		if (this.isCalled || this.writing === this.writers) return;
		this.isCalled = true;
		// After what is already on its way in this turn of the event loop: many answers often come in one.
		setImmediate(() => {
			this.isCalled = false;
			this.writing++;
			void this.writeAll();
		});
	}

	private async writeAll(): Promise<void> {
		while (this.entries.length + this.requests.length > 0) {
			const entries = this.entries.splice(0, MOST_AT_ONCE);
			const requests = this.requests.splice(0);
			try {
				const { kept, claims } = await this.written(entries, requests);
				for (const { outcome, recorder } of entries) recorder.recorded(kept.has(outcome.messageId));
				for (const [i, { claimed }] of requests.entries()) claimed(claims[i]!);
			} catch (error) {
				for (const { failed } of requests) failed(error);
				await this.retry(entries, error);
			}
		}
		this.writing--;
	}

	private async written(entries: readonly Entry[], requests: readonly ClaimRequest[]) {
		const outcomes = entries.map(({ outcome }) => outcome);
		const { work } = this.store;
		if (this.store.kind === "postgres" && outcomes.every(isPlain)) return { kept: await recordAlone(work, outcomes), claims: [] };
		return work.run(async (tx) => {
			const kept = await recordOutcomes(tx, { ids: this.ids, configured: this.configured }, outcomes);
			const claims: Claimed[][] = [];
			for (const { lane, nowMs, untilMs, most } of requests) claims.push(await claimReady(tx, nowMs, untilMs, most, lane));
			return { kept, claims };
		});
	}

	private async retry(entries: readonly Entry[], error: unknown): Promise<void> {
		const nowMs = performance.now();
		for (const entry of entries) entry.failingSinceMs ??= nowMs;
		const again = entries.filter(
			({ failingSinceMs = nowMs }) => error instanceof TransientError && nowMs - failingSinceMs < PATIENCE_MS,
		);
		for (const entry of entries) if (!again.includes(entry)) entry.recorder.lost(error);
		if (again.length === 0) return;
		const failures = Math.max(...again.map((entry) => entry.failures++));
		const restMs = Math.min(REST_MS.first * 2 ** failures, REST_MS.longest);
		this.entries = [...again, ...this.entries];
		await new Promise((resolve) => setTimeout(resolve, restMs));
	}
}
