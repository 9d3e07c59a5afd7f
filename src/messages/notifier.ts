/** One message on its way to one person. */
export interface Outgoing {
	/** The same at every try: a receiver that has seen it may drop the repeat. */
	readonly idempotencyKey: string;
	readonly messageId: string;
	readonly taskId: string | null;
	readonly text: string;
	/** BCP 47 language of the text. */
	readonly language: string;
	readonly urgent: boolean;
	readonly recipient: {
		readonly personId: string;
		readonly name: string;
		readonly phoneE164: string | null;
		readonly email: string | null;
	};
	readonly attemptedAtMs: number;
}

/** What a channel answered. An exception, or silence until the time-out, counts as refused for now. */
export type Delivery =
	| {
			readonly kind: "accepted";
			readonly answer: string;
			/** The channel's own ids of it, one a segment where it tells of segments: receipts name them. */
			readonly channelMessageIds?: readonly string[];
	  }
	| {
			readonly kind: "refused";
			readonly reason: string;
			/** True where trying again can't help: a bad number, a person who isn't served by this channel. */
			readonly forGood: boolean;
			readonly retryAfterMs?: number;
			/** True where the channel only asks for a slower pace: the message itself has failed at nothing, and no try is counted. */
			readonly throttled?: boolean;
	  };

/**
 * A channel that carries a message to a person. Its text is ready; who, when, how often and what to do on failure are decided elsewhere.
 * It may be asked to send the same message again after a crash, and passes the idempotency key on where the channel has a place for one.
 */
export abstract class Notifier {
	/** How settings and persons name it. */
	abstract readonly name: string;

	/** @param signal ends the try when its time is up */
	abstract send(message: Outgoing, signal: AbortSignal): Promise<Delivery>;

	/** Begins to listen for what comes back on the same connection; called once by a process that sends. */
	open(): void {}

	/** Ends connections; nothing is sent afterwards. */
	async close(): Promise<void> {}
}
