import type { SmsGatewaySettings } from "../../settings/channels/sms-gateway.js";
import { filled } from "../../settings/channels/templates.js";
import type { Clock } from "../../time/clock.js";
import { type Delivery, Notifier, type Outgoing } from "../notifier.js";
import { retryAfterMs } from "../retry.js";
import { segmentsOf } from "../segments.js";
import { firstPartOf, saysNever } from "./http-answer.js";
import { Outward } from "./outward.js";
import { textAt } from "./pointer.js";

const NO_NUMBER: Delivery = { kind: "refused", reason: "the person has no phone number", forGood: true };

/**
 * Sends SMS through a gateway that is spoken to over HTTP. What is sent and how its answer is read is all in the settings.
 * Redirects aren't followed: they would carry the number and the key to another address.
 */
export class SmsGatewayNotifier extends Notifier {
	readonly name = "sms-gateway";

	constructor(
		private readonly settings: SmsGatewaySettings,
		private readonly clock: Clock,
		private readonly outward = new Outward(),
	) {
		super();
		outward.assertMayBeCalled(new URL(filled(settings.url, settings.secrets, encodeURIComponent)), "The SMS gateway's address");
	}

	override async close(): Promise<void> {
		await this.outward.close();
	}

	async send(message: Outgoing, signal: AbortSignal): Promise<Delivery> {
		const number = message.recipient.phoneE164;
		if (number === null) return NO_NUMBER;
		const values = this.valuesFor(message, number);
		const response = await this.outward.fetch(...this.request(values, signal));
		const read = this.read(await firstPartOf(response));
		const means = this.meaningOf(response.status, read);
		if (means === "accepted") {
			const id = this.settings.answer.id === undefined ? undefined : textAt(read, this.settings.answer.id);
			const isId = id !== undefined && /^[\x21-\x7e]{1,200}$/.test(id);
			return {
				kind: "accepted",
				answer: isId ? `HTTP ${response.status}, id ${id}` : `HTTP ${response.status}`,
				...(isId ? { channelMessageIds: [id] } : {}),
			};
		}
		const asked = retryAfterMs(response.headers.get("retry-after"), this.clock.nowMs());
		const wait = asked ?? (means === "too many requests" ? this.settings.answer.waitSeconds * 1000 : undefined);
		return {
			kind: "refused",
			reason: this.reasonOf(response.status, read, number),
			forGood: means === "refused for good",
			...(wait === undefined ? {} : { retryAfterMs: wait }),
			...(means === "too many requests" ? { throttled: true } : {}),
		};
	}

	private valuesFor({ text, messageId, idempotencyKey, language }: Outgoing, to: string): Record<string, string> {
		const composed = text.normalize("NFC");
		const { encoding, segments } = segmentsOf(composed);
		const own = { to, toDigits: to.slice(1), text: composed, id: messageId, key: idempotencyKey, language };
		return {
			...this.settings.secrets,
			...own,
			encoding: this.settings.encodings[encoding],
			segments: String(segments),
		};
	}

	private request(values: Record<string, string>, signal: AbortSignal): [URL, RequestInit] {
		const { send, method, basic } = this.settings;
		const url = new URL(filled(this.settings.url, values, encodeURIComponent));
		const headers = new Headers({ "user-agent": "jarwatch" });
		if (send.as === "json") headers.set("content-type", "application/json");
		if (send.as === "form") headers.set("content-type", "application/x-www-form-urlencoded");
		if (basic) headers.set("authorization", `Basic ${Buffer.from(`${basic.user}:${basic.password}`).toString("base64")}`);
		for (const [name, template] of Object.entries(this.settings.headers)) headers.set(name, filled(template, values, forHeader));
		let body: string | undefined;
		if (send.as === "json") body = JSON.stringify(filledIn(send.template, values));
		else {
			const parameters = send.as === "form" ? new URLSearchParams() : url.searchParams;
			for (const [name, template] of Object.entries(send.template)) parameters.append(name, filled(template, values));
			if (send.as === "form") body = parameters.toString();
		}
		return [url, { method, headers, signal, ...(body === undefined ? {} : { body }) }];
	}

	/** @returns what the answer says, as something that a pointer leads into */
	private read(text: string): unknown {
		if (this.settings.answer.read === "form") return Object.fromEntries(new URLSearchParams(text.trim()));
		if (this.settings.answer.read === "text") return text.split(/[\s:,;|]+/).filter((word) => word !== "");
		try {
			return JSON.parse(text);
		} catch {
			return undefined;
		}
	}

	private meaningOf(status: number, read: unknown): "accepted" | "refused for good" | "refused for now" | "too many requests" {
		const { rules } = this.settings.answer;
		for (const rule of rules) {
			if (rule.status && !rule.status.includes(status)) continue;
			if (rule.at !== undefined && !rule.is?.includes(textAt(read, rule.at) ?? "")) continue;
			return rule.means;
		}
		if (status === 429) return "too many requests";
		// Where rules say what an acceptance looks like, a 200 that looks otherwise isn't one.
		if (status >= 200 && status < 300) return rules.some(({ means }) => means === "accepted") ? "refused for now" : "accepted";
		return saysNever(status) ? "refused for good" : "refused for now";
	}

	/** The gateway's own words, without anything that it shouldn't have repeated. */
	private reasonOf(status: number, read: unknown, number: string): string {
		const { answer, secrets, basic } = this.settings;
		let reason = answer.reason === undefined ? undefined : textAt(read, answer.reason);
		if (!reason) return `HTTP ${status}`;
		for (const secret of [...Object.values(secrets), ...(basic ? [basic.password] : [])])
			reason = reason.replaceAll(secret, "[secret]");
		return `HTTP ${status}: ${reason.replaceAll(number.slice(1), "[number]").slice(0, 200)}`;
	}
}

/** What can't stand in a header field as it is goes percent-encoded: a line break there would begin another field. */
function forHeader(value: string): string {
	return /^[\x20-\x7e]*$/.test(value) ? value : encodeURIComponent(value);
}

/** JSON is filled before it is written, so that its own escaping holds for every value. */
function filledIn(template: unknown, values: Readonly<Record<string, string>>): unknown {
	if (typeof template === "string") return filled(template, values);
	if (Array.isArray(template)) return template.map((item) => filledIn(item, values));
	if (typeof template !== "object" || template === null) return template;
	return Object.fromEntries(Object.entries(template).map(([key, item]) => [key, filledIn(item, values)]));
}
