import type { MessageState, ReceiptState } from "./rows.js";

/** What is known of one segment, or of a message that is told of as a whole. */
export interface SegmentReceipt {
	/** The claim under which it was sent: a message may have been sent more than once. */
	readonly claim: number;
	readonly state: ReceiptState;
}

/**
 * What the receipts of a message on one channel come to: a text of which one segment is missing can't be read.
 * @returns delivered where one sending of it arrived whole; else what its last sending came to; none where the channel has told nothing
 */
export function deliveryOf(receipts: readonly SegmentReceipt[]): ReceiptState | undefined {
	const claims = [...new Set(receipts.map(({ claim }) => claim))].sort((a, b) => b - a);
	const outcomes = claims.map((sending) => together(receipts.filter(({ claim }) => claim === sending).map(({ state }) => state)));
	return outcomes.includes("delivered") ? "delivered" : outcomes[0];
}

function together(states: readonly ReceiptState[]): ReceiptState {
	if (states.every((state) => state === "delivered")) return "delivered";
	return states.find((state) => state === "failed") ?? states.find((state) => state === "expired") ?? "accepted";
}

/**
 * What a health office sees as "failed", for every list, count and metric: a message that was given up on every channel of its person,
 * because each refused it, or took it and told afterwards that it did not arrive. Waiting for a receipt is no failure,
 * and a message that was withdrawn because it wasn't needed any more is none either.
 */
export function isFailed(message: { readonly state: MessageState }): boolean {
	return message.state === FAILED;
}

/** The same for a statement on the table of messages. */
export const FAILED = "failed" satisfies MessageState;
