import { createHash } from "node:crypto";
import webPush from "web-push";
import type { WebPushSettings } from "../../settings/channels/web-push.js";
import { isPushAddress } from "../../settings/channels/web-push.js";
import type { Clock } from "../../time/clock.js";
import { type Delivery, Notifier, type Outgoing } from "../notifier.js";
import type { PushSubscription, PushSubscriptions } from "../push-subscriptions.js";
import { type Refused, refusedByStatus } from "./http-answer.js";
import { Outward } from "./outward.js";

/** The push service has forgotten the browser. Source: RFC 8030 (2016), section 7.3 */
const GONE = new Set([404, 410]);

/**
 * Shows messages in a person's browsers. The text is encrypted for each browser, so that no push service can read it.
 * Source: RFC 8030 (delivery), RFC 8291 (encryption), RFC 8292 (who sends)
 */
export class WebPushNotifier extends Notifier {
	readonly name = "web-push";

	constructor(
		private readonly settings: WebPushSettings,
		private readonly subscriptions: PushSubscriptions,
		private readonly clock: Clock,
		private readonly outward = new Outward(),
	) {
		super();
	}

	override async close(): Promise<void> {
		await this.outward.close();
	}

	/** @returns accepted where one of her browsers' services takes it */
	async send(message: Outgoing, signal: AbortSignal): Promise<Delivery> {
		const known = await this.subscriptions.of(message.recipient.personId);
		if (known.length === 0) return { kind: "refused", reason: "the person has no browser that shows messages", forGood: true };
		const answers = await Promise.allSettled(known.map((subscription) => this.pushed(message, subscription, signal)));
		const accepted = answers.filter((answer) => answer.status === "fulfilled" && answer.value === undefined).length;
		if (accepted > 0) return { kind: "accepted", answer: `taken for ${accepted} of ${known.length} browsers` };
		const refusals = answers.flatMap((answer) => (answer.status === "fulfilled" && answer.value ? [answer.value] : []));
		const broken = answers.find((answer) => answer.status === "rejected");
		const passing = refusals.find(({ forGood }) => !forGood);
		if (passing) return passing;
		if (broken) throw (broken as PromiseRejectedResult).reason;
		return refusals[0] as Refused;
	}

	/** @returns why it wasn't taken; nothing where it was */
	private async pushed(message: Outgoing, subscription: PushSubscription, signal: AbortSignal): Promise<Refused | undefined> {
		// What was kept before the settings named fewer services isn't called any more.
		if (!isPushAddress(subscription.endpoint, this.settings.hosts))
			return { kind: "refused", reason: "the browser's push service isn't one of the settings", forGood: true };
		const response = await this.outward.fetch(...this.request(message, subscription, signal));
		await response.body?.cancel();
		if (response.ok) return undefined;
		if (GONE.has(response.status)) await this.subscriptions.remove(subscription.endpoint);
		return refusedByStatus(response, this.clock.nowMs());
	}

	private request(message: Outgoing, { endpoint, p256dh, auth }: PushSubscription, signal: AbortSignal): [string, RequestInit] {
		const { contact, publicKey, privateKey, keepHours } = this.settings;
		const payload = JSON.stringify({
			title: "Jarwatch",
			body: message.text,
			lang: message.language,
			id: message.messageId,
			urgent: message.urgent,
		});
		const { method, headers, body } = webPush.generateRequestDetails({ endpoint, keys: { p256dh, auth } }, payload, {
			vapidDetails: { subject: contact, publicKey, privateKey },
			TTL: Math.round(keepHours * 3600),
			contentEncoding: "aes128gcm",
			urgency: message.urgent ? "high" : "normal",
			// A repeat takes the place of what hasn't been shown yet.
			topic: createHash("sha256").update(message.idempotencyKey).digest("base64url").slice(0, 32),
		});
		// The length is the client's to say.
		const { "Content-Length": _, ...fields } = headers as Record<string, string | number>;
		const own = Object.fromEntries(Object.entries(fields).map(([name, value]) => [name, String(value)]));
		return [endpoint, { method, headers: own, body: body as Buffer<ArrayBuffer>, signal }];
	}
}
