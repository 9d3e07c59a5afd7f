import { createHash } from "node:crypto";
import nodemailer from "nodemailer";
import type { EmailSettings } from "../../settings/channels/email.js";
import { type Delivery, Notifier, type Outgoing } from "../notifier.js";

/** What the mail library says of a failure: its own code, and the server's reply where there was one. */
interface MailFailure {
	readonly code?: string;
	/** That of what lies behind it: whether the name wasn't found, nobody listened, or nobody vouches for the server. */
	readonly originalCode?: string;
	readonly responseCode?: number;
	readonly response?: string;
}

/** Refusals of this very message or address; one of the sign-in or the link isn't the message's. */
const OF_THE_MESSAGE = new Set(["EENVELOPE", "EMESSAGE", "ESTREAM"]);

/** Hands messages as plain text to a mail server, which carries them on and tries again by itself. */
export class EmailNotifier extends Notifier {
	readonly name = "email";
	private readonly transport;

	constructor(private readonly settings: EmailSettings) {
		super();
		const { host, port, tls, user, password, connections, answerSeconds } = settings;
		const timeoutMs = answerSeconds * 1000;
		this.transport = nodemailer.createTransport({
			pool: true,
			maxConnections: connections,
			host,
			port,
			secure: tls === "whole",
			requireTLS: tls === "start",
			ignoreTLS: tls === "none",
			...(user && password ? { auth: { user, pass: password } } : {}),
			connectionTimeout: timeoutMs,
			greetingTimeout: timeoutMs,
			socketTimeout: timeoutMs,
			// When a message goes again is decided elsewhere, where it is counted.
			maxRequeues: 0,
			disableFileAccess: true,
			disableUrlAccess: true,
		});
	}

	async send(message: Outgoing, signal: AbortSignal): Promise<Delivery> {
		const to = message.recipient.email;
		if (to === null) return { kind: "refused", reason: "the person has no e-mail address", forGood: true };
		const messageId = this.idOf(message.idempotencyKey);
		const { from, fromName, replyTo, subject } = this.settings;
		try {
			await this.transport.sendMail({
				// Left to itself it would go on in a queue of the package, or hold its connection for as long as a server trickles.
				signal,
				from: { name: fromName, address: from },
				to: { name: "", address: to },
				...(replyTo ? { replyTo } : {}),
				subject,
				text: message.text,
				textEncoding: "quoted-printable",
				messageId,
				date: new Date(message.attemptedAtMs),
				priority: message.urgent ? "high" : "normal",
				headers: {
					// RFC 3834 (2004), section 5: nobody's machine answers what a machine has written.
					"Auto-Submitted": "auto-generated",
					"X-Auto-Response-Suppress": "All",
					"Content-Language": message.language,
				},
			});
			return { kind: "accepted", answer: "taken by the mail server", channelMessageIds: [messageId] };
		} catch (error) {
			return refusalOf(error as MailFailure, to);
		}
	}

	override async close(): Promise<void> {
		this.transport.close({ force: true });
	}

	/** The same at every try, so that a mailbox may know the repeat. Source: RFC 5322 (2008), section 3.6.4 */
	private idOf(idempotencyKey: string): string {
		const key = createHash("sha256").update(idempotencyKey).digest("hex").slice(0, 32);
		return `<${key}@${this.settings.from.split("@").at(-1)}>`;
	}
}

/**
 * A reply of 5yz to address or text is for good, 4yz is for now; so is whatever isn't the message's own.
 * Source: RFC 5321 (2008), section 4.2.1
 */
function refusalOf({ code, originalCode, responseCode, response }: MailFailure, to: string): Delivery {
	const isOfTheMessage = OF_THE_MESSAGE.has(code ?? "") && responseCode !== undefined && responseCode >= 500;
	const words = response?.replaceAll(to, "[address]").replace(/^\d{3}[ -]?/, "") ?? "";
	const reason =
		responseCode === undefined
			? `the mail server can't be reached (${originalCode ?? code ?? "unknown"})`
			: `SMTP ${responseCode} ${words}`;
	return { kind: "refused", reason: reason.trim().slice(0, 200), forGood: isOfTheMessage };
}
