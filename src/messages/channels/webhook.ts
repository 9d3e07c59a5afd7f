import { InputError } from "../../errors/errors.js";
import type { Clock } from "../../time/clock.js";
import { type Delivery, Notifier, type Outgoing } from "../notifier.js";
import { firstPartOf, refusedByStatus } from "./http-answer.js";
import { Outward } from "./outward.js";
import { keyFrom, signedHeaders } from "./standard-webhook.js";

/** Where messages are posted and how they are signed. */
export interface WebhookOptions {
	readonly url: string;
	/** `whsec_...` */
	readonly secret: string;
}

/**
 * Posts every message as JSON to one address, signed so that the receiver can tell it from a forgery: the bridge to an SMS gateway,
 * a messenger or an office system. Only 2xx is taken for accepted, and redirects aren't followed.
 * Source: Standard Webhooks 1.0.0
 */
export class WebhookNotifier extends Notifier {
	readonly name = "webhook";
	private readonly url: URL;

	constructor(
		private readonly options: WebhookOptions,
		private readonly clock: Clock,
		private readonly outward = new Outward(),
	) {
		super();
		this.url = new URL(options.url);
		if (this.url.username || this.url.password)
			throw new InputError(
				"notifier-refused",
				"The webhook's address must hold no user name or password; the signature says who sends.",
			);
		outward.assertMayBeCalled(this.url, "The webhook's address");
		keyFrom(options.secret);
	}

	async send(message: Outgoing, signal: AbortSignal): Promise<Delivery> {
		const body = JSON.stringify(payloadOf(message));
		const response = await this.outward.fetch(this.url, {
			method: "POST",
			signal,
			headers: {
				"content-type": "application/json",
				"user-agent": "jarwatch",
				...signedHeaders(this.options.secret, message.messageId, message.attemptedAtMs, body),
			},
			body,
		});
		const text = await firstPartOf(response);
		if (response.ok) return acceptedBy(response.status, text);
		return refusedByStatus(response, this.clock.nowMs());
	}

	override async close(): Promise<void> {
		await this.outward.close();
	}
}

function payloadOf(message: Outgoing): object {
	const { attemptedAtMs, ...data } = message;
	return { type: "message.send", timestamp: new Date(attemptedAtMs).toISOString(), data };
}

/** Keeps the receiver's own id of the message where it gives one; the rest of its answer may repeat the text or the number. */
function acceptedBy(status: number, text: string): Delivery {
	try {
		const { id } = JSON.parse(text) as { id?: unknown };
		if (typeof id === "string" && /^[\w.:-]{1,100}$/.test(id))
			return { kind: "accepted", answer: `HTTP ${status}, id ${id}`, channelMessageIds: [id] };
	} catch {
		// Most answers aren't JSON, and needn't be.
	}
	return { kind: "accepted", answer: `HTTP ${status}` };
}
