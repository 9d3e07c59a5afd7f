import { z } from "zod";
import { InputError } from "../errors/errors.js";
import { phoneE164Of } from "../programme/import/phone.js";
import type { Store } from "../store/store.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import type { Notifiers } from "./channels/registry.js";
import type { Delivery, Outgoing } from "./notifier.js";
import { Tries } from "./tries.js";

/** Sends one message by one channel, to see whether it is set up rightly. */
export class ChannelCheck {
	private readonly tries: Tries;

	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly notifiers: Notifiers,
		sendTimeoutMs: number,
	) {
		this.tries = new Tries(sendTimeoutMs);
	}

	/** The channels that the settings name. */
	get names(): readonly string[] {
		return [...this.notifiers.keys()];
	}

	/**
	 * @param to a phone number with its country, an e-mail address, or the code of a person on file
	 * @returns what the channel answered, and after how long
	 * @throws InputError `notifier-unknown`, `unknown-subject`
	 */
	async send(channel: string, to: string, text: string, named?: string): Promise<{ delivery: Delivery; tookMs: number }> {
		const { notifier, recipient } = await this.prepared(channel, to, named);
		const attemptedAtMs = this.clock.nowMs();
		const messageId = this.ids.next();
		const message: Outgoing = {
			idempotencyKey: `test.${messageId}`,
			messageId,
			taskId: null,
			text,
			language: "en",
			urgent: false,
			recipient,
			attemptedAtMs,
		};
		const delivery = await this.tries.of(notifier, message);
		return { delivery, tookMs: this.clock.nowMs() - attemptedAtMs };
	}

	/**
	 * Looks whether there are such a channel and such a recipient, and sends nothing.
	 * @param named how a refusal calls the recipient
	 * @throws InputError as `send`
	 */
	async prepared(channel: string, to: string, named = "--to") {
		const notifier = this.notifiers.get(channel);
		if (!notifier)
			throw new InputError(
				"notifier-unknown",
				`JARWATCH_NOTIFIERS doesn't name the channel "${channel}"; it names ${this.names.join(", ")}.`,
			);
		return { notifier, recipient: await this.recipientOf(to, named) };
	}

	private async recipientOf(to: string, named: string): Promise<Outgoing["recipient"]> {
		const nobody = { personId: "test", name: "Test", phoneE164: null, email: null };
		const phoneE164 = phoneE164Of(to);
		if (phoneE164) return { ...nobody, phoneE164 };
		if (z.email().safeParse(to).success) return { ...nobody, email: to };
		const [person] = await this.store.query<Outgoing["recipient"]>(
			"SELECT id AS person_id, name, phone_e164, email FROM person WHERE code = $1",
			[to],
		);
		if (person) return person;
		throw new InputError(
			"unknown-subject",
			`${named} must be a phone number with its country, such as +447700900123, an e-mail address, or the code of a person on file.`,
		);
	}
}
