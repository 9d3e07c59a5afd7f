/**
 * Wakes whoever dispatches. A hint carries the id of a message and nothing else; losing every hint loses nothing,
 * because the outbox in the database is the truth and is looked through anyway.
 */
export abstract class WakeQueue {
	/** Says that messages from these on are ready. Never throws: where the queue is away, the outbox is found without it. */
	abstract wake(messageIds: readonly string[]): void;

	/**
	 * Begins to hand hints to a handler, each at most once at a time. What the handler throws is reported; the outbox has what was missed.
	 */
	abstract start(handler: (messageId: string) => Promise<void>): Promise<void>;

	/** Takes no more hints, waits for the handlers at work, and lets go of connections. */
	abstract stop(): Promise<void>;

	/** @returns whether the queue can be reached now */
	abstract healthy(): Promise<boolean>;

	/** @returns what whoever runs it should mend though it can be reached; none: nothing is known to be wrong */
	concern(): string | undefined {
		return undefined;
	}
}
