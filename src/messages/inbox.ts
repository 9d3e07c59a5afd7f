import { TransientError } from "../errors/errors.js";
import type { Incoming } from "./inbound/incoming.js";
import type { Receipt } from "./receipts.js";

/** Where a channel hands in what comes back on its own connection. Each is kept when the promise is; a rejected one is handed in again. */
export abstract class Inbox {
	abstract text(incoming: Incoming): Promise<void>;
	abstract receipts(receipts: readonly Receipt[]): Promise<void>;
}

/** Takes nothing: whoever hands in keeps it and tries again. */
export class ClosedInbox extends Inbox {
	async text(): Promise<void> {
		throw new TransientError("notifier-unavailable", "nothing is taken in here");
	}

	async receipts(): Promise<void> {
		await this.text();
	}
}
