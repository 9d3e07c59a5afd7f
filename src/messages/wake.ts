import type { WakeQueue } from "../queue/wake-queue.js";
import type { Transaction } from "../store/unit-of-work.js";
import { type FillValues, type NewMessage, putIntoOutbox } from "./outbox.js";

/** Wakes the dispatcher once the unit of work that wrote the messages is kept, and not if it isn't. */
export type Wake = (tx: Transaction, messageIds: readonly string[]) => void;

/** A hint serves so many messages: whoever follows it takes all that is ready, a batch at a time. */
export const MESSAGES_A_HINT = 100;

export function wakeAfterCommit(queue: Pick<WakeQueue, "wake">): Wake {
	return (tx, messageIds) => {
		if (messageIds.length === 0) return;
		tx.afterCommit(() => queue.wake(hintsFor(messageIds)));
	};
}

/** @returns every hundredth id: enough hints for all of them */
export function hintsFor(messageIds: readonly string[]): string[] {
	return messageIds.filter((_, i) => i % MESSAGES_A_HINT === 0);
}

/** Puts messages into the outbox and wakes the dispatcher for those that needn't wait for the person's time. */
export async function post(tx: Transaction, wake: Wake, messages: readonly NewMessage<FillValues | string>[]): Promise<void> {
	await putIntoOutbox(tx, messages);
	wake(
		tx,
		messages.filter(({ notBeforeMs, createdAtMs }) => notBeforeMs <= createdAtMs).map(({ id }) => id),
	);
}

/**
 * Puts messages that tell of work into the outbox: an urgent one like any other; the rest is held until its person may be
 * written to, and told of together with what else is due for her then.
 */
export async function tellOfWork(
	tx: Transaction,
	wake: Wake,
	messages: readonly NewMessage<FillValues | string>[],
): Promise<void> {
	await putIntoOutbox(
		tx,
		messages.filter(({ urgent }) => !urgent),
		"held",
	);
	await post(
		tx,
		wake,
		messages.filter(({ urgent }) => urgent),
	);
}
