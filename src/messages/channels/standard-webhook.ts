import { createHmac } from "node:crypto";
import { InputError } from "../../errors/errors.js";

/** The headers that tell a receiver who sent a webhook, and that nobody has changed or kept it. */
export interface WebhookHeaders {
	readonly "webhook-id": string;
	readonly "webhook-timestamp": string;
	readonly "webhook-signature": string;
}

/**
 * Signs a webhook.
 * @param secret `whsec_` and the base64 of 24 to 64 bytes
 * @param id the same at every try of one message; it holds no point
 * @param atMs instant of this try, epoch milliseconds; the header has whole seconds
 * @param body exactly as it is sent
 * Source: Standard Webhooks 1.0.0, sections on signature scheme and headers
 */
export function signedHeaders(secret: string, id: string, atMs: number, body: string): WebhookHeaders {
	const timestamp = String(Math.floor(atMs / 1000));
	const signature = createHmac("sha256", keyFrom(secret)).update(`${id}.${timestamp}.${body}`).digest("base64");
	return { "webhook-id": id, "webhook-timestamp": timestamp, "webhook-signature": `v1,${signature}` };
}

/** @throws InputError `notifier-refused` where the secret isn't one; it isn't shown */
export function keyFrom(secret: string): Buffer {
	const key = Buffer.from(secret.replace(/^whsec_/, ""), "base64");
	if (!secret.startsWith("whsec_") || key.length < 24 || key.length > 64)
		throw new InputError(
			"notifier-refused",
			"The webhook's secret must be whsec_ and the base64 of 24 to 64 bytes, as Standard Webhooks has it.",
		);
	return key;
}
