import { valuesOf } from "../store/sql.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";
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

interface Entry {
	readonly outcome: Outcome;
	readonly recorder: Recorder;
}

/**
 * Records outcomes, each as soon as it is known, because a crash between a channel's answer and its record means a second message.
 * Outcomes that come while a record is being written go into the next one together.
 */
export class OutcomeBook {
	private waiting: Entry[] = [];
	private writing = false;

	constructor(
		private readonly store: Store,
		private readonly ids: Ids,
	) {}

	record(outcome: Outcome, recorder: Recorder): void {
		this.waiting.push({ outcome, recorder });
		if (this.writing) return;
		this.writing = true;
		// After what is already on its way in this turn of the event loop: many answers often come in one.
		setImmediate(() => void this.writeWaiting());
	}

	private async writeWaiting(): Promise<void> {
		while (this.waiting.length > 0) {
			const entries = this.waiting.splice(0, MOST_AT_ONCE);
			try {
				const kept = await this.store.work.run((tx) => write(tx, this.ids, entries));
				for (const { outcome, recorder } of entries) recorder.recorded(kept.has(outcome.messageId));
			} catch (error) {
				for (const { recorder } of entries) recorder.lost(error);
			}
		}
		this.writing = false;
	}
}

async function write(tx: Transaction, ids: Ids, entries: readonly Entry[]): Promise<ReadonlySet<string>> {
	const parameters: unknown[] = [];
	for (const { outcome: o } of entries)
		parameters.push(o.messageId, o.claim, o.state, o.channel, o.answer, o.tries, o.nextTryAtMs, o.endedAtMs);
	const kept = new Set<string>();
	for (const { id } of await tx.query<{ id: string }>(statementFor(entries.length), parameters)) kept.add(id);
	const failed = entries.map(({ outcome }) => outcome).filter(({ messageId, failure }) => failure && kept.has(messageId));
	await keepFailures(tx, ids, failed);
	return kept;
}

const statements = new Map<number, string>();

/** The number of the claim is the fence: who comes late, after somebody else's claim, changes nothing. */
function statementFor(count: number): string {
	let statement = statements.get(count);
	if (!statement) {
		const { text } = valuesOf(Array.from({ length: count }, () => Array(8).fill(null)));
		statement = `UPDATE message SET state = v.column3, channel = v.column4, answer = v.column5, tries = CAST(v.column6 AS integer),
		        next_try_at_ms = CAST(v.column7 AS bigint), ended_at_ms = CAST(v.column8 AS bigint)
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
