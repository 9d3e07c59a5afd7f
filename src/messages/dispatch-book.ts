import { TransientError } from "../errors/errors.js";
import { valuesOf } from "../store/sql.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";
import { keepChannelIds } from "./channel-ids.js";
import { type Claimed, claimReady } from "./claim.js";
import type { Outcome } from "./outcome.js";

/** Who wants to know whether outcomes were recorded. */
export interface Recorder {
	/** @param isKept false where the lease had run out and somebody else has claimed the message since */
	recorded(isKept: boolean): void;
	/** It couldn't be recorded: the message goes out again when its lease runs out. */
	lost(error: unknown): void;
}

/** Parameters of one statement stay well under what either database takes (SQLite: 32 766, PostgreSQL: 65 535). */
const MOST_AT_ONCE = 500;

/** With the database away, what was sent is worth some patience: unrecorded it would be sent again. */
const PATIENCE_MS = [200, 400, 800, 1600, 3200] as const;

interface Entry {
	readonly outcome: Outcome;
	readonly recorder: Recorder;
}

interface ClaimRequest {
	readonly nowMs: number;
	readonly untilMs: number;
	readonly most: number;
	readonly claimed: (messages: Claimed[]) => void;
	readonly failed: (error: unknown) => void;
}

/**
 * Writes all that a dispatcher has to write: claims, and outcomes, each as soon as it is known, because a crash between a channel's
 * answer and its record means a second message. What comes while a unit of work is being written goes into the next one together.
 */
export class DispatchBook {
	private entries: Entry[] = [];
	private requests: ClaimRequest[] = [];
	private writing = false;
	private failures = 0;

	constructor(
		private readonly store: Store,
		private readonly ids: Ids,
		/** Names of the channels there are. */
		private readonly configured: Iterable<string> = [],
	) {}

	record(outcome: Outcome, recorder: Recorder): void {
		this.entries.push({ outcome, recorder });
		this.write();
	}

	/** @returns the messages that nobody else may send until the lease runs out; see `claimReady` */
	claim(nowMs: number, untilMs: number, most: number): Promise<Claimed[]> {
		return new Promise((claimed, failed) => {
			this.requests.push({ nowMs, untilMs, most, claimed, failed });
			this.write();
		});
	}

	private write(): void {
		if (this.writing) return;
		this.writing = true;
		// After what is already on its way in this turn of the event loop: many answers often come in one.
		setImmediate(() => void this.writeAll());
	}

	private async writeAll(): Promise<void> {
		while (this.entries.length + this.requests.length > 0) {
			const entries = this.entries.splice(0, MOST_AT_ONCE);
			const requests = this.requests.splice(0);
			try {
				const { kept, claims } = await this.store.work.run((tx) => this.unit(tx, entries, requests));
				this.failures = 0;
				for (const { outcome, recorder } of entries) recorder.recorded(kept.has(outcome.messageId));
				for (const [i, { claimed }] of requests.entries()) claimed(claims[i]!);
			} catch (error) {
				for (const { failed } of requests) failed(error);
				await this.retry(entries, error);
			}
		}
		this.writing = false;
	}

	private async unit(tx: Transaction, entries: readonly Entry[], requests: readonly ClaimRequest[]) {
		const kept = entries.length === 0 ? NONE : await recorded(tx, this.ids, entries, this.configured);
		const claims: Claimed[][] = [];
		for (const { nowMs, untilMs, most } of requests) claims.push(await claimReady(tx, nowMs, untilMs, most));
		return { kept, claims };
	}

	private async retry(entries: Entry[], error: unknown): Promise<void> {
		const waitMs = PATIENCE_MS[this.failures];
		if (entries.length > 0 && error instanceof TransientError && waitMs !== undefined) {
			this.failures++;
			this.entries = [...entries, ...this.entries];
			await new Promise((resolve) => setTimeout(resolve, waitMs));
			return;
		}
		this.failures = 0;
		for (const { recorder } of entries) recorder.lost(error);
	}
}

const NONE: ReadonlySet<string> = new Set();

async function recorded(
	tx: Transaction,
	ids: Ids,
	entries: readonly Entry[],
	configured: Iterable<string>,
): Promise<ReadonlySet<string>> {
	const parameters: unknown[] = [];
	for (const { outcome: o } of entries)
		parameters.push(
			o.messageId,
			o.claim,
			o.state,
			o.channel,
			o.answer,
			o.tries,
			o.nextTryAtMs,
			o.endedAtMs,
			o.sent?.segments ?? null,
			o.sent?.encoding ?? null,
		);
	const kept = new Set<string>();
	for (const { id } of await tx.query<{ id: string }>(statementFor(entries.length), parameters)) kept.add(id);
	const failed = entries.map(({ outcome }) => outcome).filter(({ messageId, failure }) => failure && kept.has(messageId));
	await keepFailures(tx, ids, failed);
	const named = entries.flatMap(({ outcome }) => (outcome.channelMessageIds && kept.has(outcome.messageId) ? [outcome] : []));
	await keepChannelIds(tx, named, ids, configured);
	return kept;
}

const statements = new Map<number, string>();

/** The number of the claim is the fence: who comes late, after somebody else's claim, changes nothing. */
function statementFor(count: number): string {
	let statement = statements.get(count);
	if (!statement) {
		const { text } = valuesOf(Array.from({ length: count }, () => Array(10).fill(null)));
		statement = `UPDATE message SET state = v.column3, channel = v.column4, answer = v.column5, tries = CAST(v.column6 AS integer),
		        next_try_at_ms = CAST(v.column7 AS bigint), ended_at_ms = CAST(v.column8 AS bigint),
		        segments = CAST(v.column9 AS integer), encoding = v.column10
		 FROM (VALUES ${text}) AS v
		 WHERE message.id = v.column1 AND message.claim = CAST(v.column2 AS integer) AND message.state = 'claimed'
		 RETURNING message.id`;
		statements.set(count, statement);
	}
	return statement;
}

async function keepFailures(tx: Transaction, ids: Ids, outcomes: readonly Outcome[]): Promise<void> {
	if (outcomes.length === 0) return;
	const { text, parameters } = valuesOf(
		outcomes.map(({ messageId, failure: f }) => [ids.next(), messageId, f!.failedAtMs, f!.channel, f!.forGood, f!.reason]),
	);
	await tx.affected(
		`INSERT INTO message_failure (id, message_id, failed_at_ms, channel, for_good, reason) VALUES ${text}`,
		parameters,
	);
}
