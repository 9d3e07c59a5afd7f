import { type Delivery, Notifier, type Outgoing } from "../../src/messages/notifier.js";

/** A notifier that keeps what it was asked to send and answers as the test tells it to. */
export class TestNotifier extends Notifier {
	readonly sent: Outgoing[] = [];
	/** Sends that have begun and not ended. */
	atOnce = 0;
	mostAtOnce = 0;

	constructor(
		readonly name = "test",
		private readonly answer: (message: Outgoing, tries: number, signal: AbortSignal) => Delivery | Promise<Delivery> = accepted,
	) {
		super();
	}

	async send(message: Outgoing, signal: AbortSignal): Promise<Delivery> {
		this.sent.push(message);
		this.atOnce++;
		this.mostAtOnce = Math.max(this.mostAtOnce, this.atOnce);
		try {
			return await this.answer(message, this.sent.length, signal);
		} finally {
			this.atOnce--;
		}
	}
}

export const accepted = (): Delivery => ({ kind: "accepted", answer: "taken" });
export const refusedForNow = (): Delivery => ({ kind: "refused", reason: "busy", forGood: false });
export const refusedForGood = (): Delivery => ({ kind: "refused", reason: "no such number", forGood: true });

export const named = (...notifiers: Notifier[]): ReadonlyMap<string, Notifier> =>
	new Map(notifiers.map((notifier) => [notifier.name, notifier]));
