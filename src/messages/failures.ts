import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { FAILED } from "./delivery.js";
import type { Wake } from "./wake.js";

/** A try that failed. */
export interface FailedTry {
	readonly messageId: string;
	readonly failedAtMs: number;
	readonly channel: string;
	readonly forGood: boolean;
	readonly reason: string;
}

/** A message that was given up on every channel of its person. */
export interface FailedMessage {
	readonly id: string;
	/** Name of the text. */
	readonly text: string;
	readonly recipientCode: string;
	readonly channel: string | null;
	readonly endedAtMs: number;
	/** Why, in the channel's words. */
	readonly answer: string | null;
}

/** How many messages one call sends again at most. */
const MOST = 1000;

/** Messages that were given up: why, and sent again when somebody says so. */
export class Failures {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly wake: Wake,
	) {}

	/** @returns the failed tries of a message, the first one first */
	async of(messageId: string): Promise<FailedTry[]> {
		const rows = await this.store.query<FailedTry & { forGood: boolean | number }>(
			"SELECT message_id, failed_at_ms, channel, for_good, reason FROM message_failure WHERE message_id = $1 ORDER BY failed_at_ms, id",
			[messageId],
		);
		return rows.map((row) => ({ ...row, forGood: Boolean(row.forGood) }));
	}

	/** @returns what was given up and waits for somebody to send it again, the longest ago first */
	async list(most = MOST): Promise<FailedMessage[]> {
		return this.store.query<FailedMessage>(
			`SELECT m.id, m.text, p.code AS recipient_code, m.channel, m.ended_at_ms, m.answer FROM message m JOIN person p ON p.id = m.recipient_id
			 WHERE m.state = '${FAILED}' ORDER BY m.ended_at_ms, m.id LIMIT $1`,
			[most],
		);
	}

	/** Sends a failed message again. @throws InputError `unknown-subject`; `conflict` where it hasn't failed */
	replay(messageId: string): Promise<void> {
		return this.store.work.run(async (tx) => {
			const [message] = await tx.query<{ state: string }>("SELECT state FROM message WHERE id = $1", [messageId]);
			if (!message) throw new InputError("unknown-subject", "There is no such message.", { status: 404 });
			const again = await this.again(tx, "id = $2 AND state = 'failed'", [messageId]);
			if (again.length === 0)
				throw new InputError("conflict", `Only a failed message is sent again; this one is ${message.state}.`, { status: 409 });
		});
	}

	/** Sends every failed message again, up to a thousand. @returns how many */
	replayAll(): Promise<number> {
		return this.store.work.run(async (tx) => {
			const which = `id IN (SELECT id FROM message WHERE state = 'failed' ORDER BY created_at_ms LIMIT ${MOST})`;
			return (await this.again(tx, which, [])).length;
		});
	}

	/** From the first channel on, with the key it had: a receiver that has seen it may drop it. */
	private async again(tx: Transaction, which: string, parameters: readonly unknown[]): Promise<string[]> {
		const nowMs = this.clock.nowMs();
		const rows = await tx.query<{ id: string }>(
			`UPDATE message SET state = 'waiting', ready_at_ms = $1, waits_since_ms = $1, next_try_at_ms = $1, ended_at_ms = NULL, tries = 0, channel = NULL, answer = NULL
			 WHERE ${which} RETURNING id`,
			[nowMs, ...parameters],
		);
		const ids = rows.map(({ id }) => id);
		await record(
			tx,
			this.ids,
			ids.map((id) => ({
				atMs: nowMs,
				actor: "office",
				action: "message sent again",
				subjectKind: "message",
				subjectId: id,
				detail: {},
			})),
		);
		this.wake(tx, ids);
		return ids;
	}
}
