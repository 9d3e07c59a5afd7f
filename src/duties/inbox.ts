import { from } from "../ledger/origin.js";
import type { Incoming } from "../messages/inbound/incoming.js";
import { Inbox } from "../messages/inbox.js";
import type { Receipt, Receipts } from "../messages/receipts.js";
import type { Replies } from "./replies.js";

/** Takes what channels hand in just as the interface does. */
export class RepliesInbox extends Inbox {
	constructor(
		private readonly replies: Replies,
		private readonly taken: Receipts,
	) {
		super();
	}

	async text(incoming: Incoming): Promise<void> {
		await from(`channel ${incoming.channel}`, () => this.replies.receive(incoming));
	}

	async receipts(receipts: readonly Receipt[]): Promise<void> {
		await from("receipts of a channel", () => this.taken.take(receipts));
	}
}
