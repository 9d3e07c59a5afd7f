import { valuesOf } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";

/** What is to be told to whom. */
export interface NewMessage {
	readonly id: string;
	readonly idempotencyKey: string;
	readonly taskId: string | null;
	readonly recipientId: string;
	/** Name of the text in the catalogues. */
	readonly text: string;
	readonly fill: Readonly<Record<string, string | number>>;
	readonly urgent: boolean;
	readonly createdAtMs: number;
	/** Not before this: quiet hours and days off have been looked at. */
	readonly notBeforeMs: number;
}

/**
 * Puts messages into the outbox in the unit of work that gives the reason for them.
 * A message whose idempotency key is there already is left as it is.
 */
export async function putIntoOutbox(tx: Transaction, messages: readonly NewMessage[]): Promise<void> {
	for (let from = 0; from < messages.length; from += 500) {
		const { text, parameters } = valuesOf(
			messages
				.slice(from, from + 500)
				.map((m) => [
					m.id,
					m.idempotencyKey,
					m.taskId,
					m.recipientId,
					m.text,
					JSON.stringify(m.fill),
					m.urgent,
					"waiting",
					m.createdAtMs,
					m.notBeforeMs,
					0,
					0,
				]),
		);
		await tx.affected(
			`INSERT INTO message (id, idempotency_key, task_id, recipient_id, text, fill, urgent, state, created_at_ms, next_try_at_ms, claim, tries)
			 VALUES ${text} ON CONFLICT (idempotency_key) DO NOTHING`,
			parameters,
		);
	}
}
