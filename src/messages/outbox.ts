import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";

/** Values for the placeholders of a text. */
export type FillValues = Readonly<Record<string, string | number>>;

/** What is to be told to whom; what its text is filled with is given as values, or as the JSON of them. */
export interface NewMessage<F extends FillValues | string = FillValues> {
	readonly id: string;
	readonly idempotencyKey: string;
	readonly taskId: string | null;
	readonly recipientId: string;
	/** Name of the text in the catalogues. */
	readonly text: string;
	readonly fill: F;
	readonly urgent: boolean;
	readonly createdAtMs: number;
	/** Not before this: quiet hours and days off have been looked at. */
	readonly notBeforeMs: number;
	/** Names of notifiers in the order in which it tries them; left out: the person's own. */
	readonly channels?: readonly string[] | null;
	/** What it will be as SMS, where that is known. */
	readonly segments?: number;
	/** Since when what it stands for could have gone; left out: since it may go itself. */
	readonly waitsSinceMs?: number | null;
	/** Failed tries of what it stands for, and the channel they failed on; left out: none. */
	readonly tries?: number;
	readonly channel?: string | null;
}

/**
 * Puts messages into the outbox in the unit of work that gives the reason for them.
 * A message whose idempotency key is there already is left as it is.
 */
export async function putIntoOutbox(
	tx: Transaction,
	messages: readonly NewMessage<FillValues | string>[],
	state: "waiting" | "held" = "waiting",
): Promise<void> {
	const isHeld = state === "held";
	await tx.insert(
		"message",
		COLUMNS,
		messages.map((m) => [
			m.id,
			m.idempotencyKey,
			m.taskId,
			m.recipientId,
			m.text,
			typeof m.fill === "string" ? m.fill : JSON.stringify(m.fill),
			m.urgent,
			state,
			m.createdAtMs,
			isHeld ? null : m.notBeforeMs,
			isHeld ? m.notBeforeMs : null,
			isHeld ? null : m.notBeforeMs,
			isHeld ? null : (m.waitsSinceMs ?? m.notBeforeMs),
			0,
			m.tries ?? 0,
			m.channel ?? null,
			m.channels ? JSON.stringify(m.channels) : null,
			m.segments ?? null,
		]),
		"ON CONFLICT (idempotency_key) DO NOTHING",
	);
}

const COLUMNS = [
	...["id", "idempotency_key", "task_id", "recipient_id", "text", "fill", "urgent", "state", "created_at_ms"],
	...["next_try_at_ms", "held_until_ms", "ready_at_ms", "waits_since_ms", "claim", "tries", "channel", "channels", "segments"],
];

/**
 * Withdraws what tells of tasks, or what is for people, and hasn't gone: held, waiting, or merged into a digest that still waits.
 * @param by whether the ids are of tasks or of people
 * @param also a further condition on the messages, in SQL without parameters
 */
export async function withdrawMessages(
	tx: Transaction,
	by: "task_id" | "recipient_id",
	ids: readonly string[],
	nowMs: number,
	also = "true",
): Promise<void> {
	if (ids.length === 0) return;
	await tx.affected(
		`UPDATE message SET state = 'withdrawn', next_try_at_ms = NULL, held_until_ms = NULL, ended_at_ms = $1
		 WHERE ${by} IN (${placeholders(ids.length, 2)}) AND ${also} AND (state IN ('waiting', 'held', 'withheld')
		   OR (state = 'merged' AND EXISTS (SELECT 1 FROM message d WHERE d.id = message.digest_id AND d.state IN ('waiting', 'withheld'))))`,
		[nowMs, ...ids],
	);
}
