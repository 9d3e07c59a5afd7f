import { createHash } from "node:crypto";
import type { Pdu } from "smpp";
import { TransientError } from "../../../errors/errors.js";
import type { Log } from "../../../log/log.js";
import type { SmppSettings } from "../../../settings/channels/smpp.js";
import type { Clock } from "../../../time/clock.js";
import type { Randomness } from "../../../time/randomness.js";
import type { Inbox } from "../../inbox.js";
import { type Delivery, Notifier, type Outgoing } from "../../notifier.js";
import { partsOfText, segmentsOf } from "../../segments.js";
import { Slots } from "../../slots.js";
import { Deliveries } from "./deliveries.js";
import { SmppLink } from "./link.js";
import { spelt } from "./receipt.js";
import { ROK, refusalBy } from "./statuses.js";

export interface SmppParts {
	readonly settings: SmppSettings;
	readonly clock: Clock;
	readonly randomness: Randomness;
	readonly log: Log;
	readonly inbox: Inbox;
}

/** Messages of which some segments were taken, and the others weren't yet. */
const MOST_HALVES = 1000;

/** Sends SMS to a message centre by SMPP 3.4, and hands in receipts and texts that come on the same link. */
export class SmppNotifier extends Notifier {
	readonly name = "smpp";
	private readonly link: SmppLink;
	private readonly window: Slots;
	/** Ids of segments that were taken, late answers included, by message and text: what was taken isn't sent again with the rest. */
	private readonly halves = new Map<string, (string | undefined)[]>();

	constructor(private readonly parts: SmppParts) {
		super();
		const { settings, inbox, clock, log, randomness } = parts;
		const deliveries = new Deliveries(settings, inbox, clock);
		this.link = new SmppLink({ settings, log, randomness, deliver: (pdu) => deliveries.take(pdu) });
		this.window = new Slots(settings.window);
	}

	override open(): void {
		this.link.open();
	}

	async send(message: Outgoing): Promise<Delivery> {
		const number = message.recipient.phoneE164;
		if (number === null) return { kind: "refused", reason: "the person has no phone number", forGood: true };
		const parts = partsOfText(message.text);
		if (parts.length === 0) return { kind: "refused", reason: "the text is empty", forGood: true };
		if (parts.length > 255) return { kind: "refused", reason: "the text has more than 255 segments", forGood: true };
		const key = `${message.messageId} ${message.text}`;
		const taken = this.halves.get(key) ?? [];
		this.keepHalf(key, taken);
		const answers = await Promise.allSettled(
			parts.map((_, i) => (taken[i] === undefined ? this.submit(message, number, parts, i, taken) : undefined)),
		);
		// A link that was lost tells more than the segments that were refused for it.
		for (const answer of answers) if (answer.status === "rejected") return lostBy(answer.reason);
		const refusals = answers.flatMap((answer) => (answer.status === "fulfilled" && answer.value ? [answer.value] : []));
		const refusal = refusals.find(({ forGood }) => forGood) ?? refusals[0];
		if (refusal) return refusal;
		this.halves.delete(key);
		return {
			kind: "accepted",
			answer: parts.length === 1 ? `id ${taken[0]}` : `${parts.length} segments, first id ${taken[0]}`,
			// A centre that gives no ids tells of nothing later.
			...(taken.every((id) => id) ? { channelMessageIds: taken as string[] } : {}),
		};
	}

	override close(): Promise<void> {
		return this.link.close();
	}

	/** @returns why it was refused; nothing where it was taken, and its id is kept */
	private async submit(
		message: Outgoing,
		number: string,
		parts: readonly string[],
		at: number,
		taken: (string | undefined)[],
	): Promise<Extract<Delivery, { kind: "refused" }> | undefined> {
		await this.window.take();
		try {
			const { receiptId, throttledSeconds } = this.parts.settings;
			const keep = (answer: Pdu) => {
				if (answer.command_status === ROK) taken[at] = spelt(idIn(answer), receiptId);
			};
			const answer = await this.link.ask("submit_sm", this.fields(message, number, parts, at), keep);
			keep(answer);
			return answer.command_status === ROK ? undefined : refusalBy(answer.command_status, throttledSeconds * 1000);
		} finally {
			this.window.give();
		}
	}

	private fields(message: Outgoing, number: string, parts: readonly string[], at: number): Record<string, unknown> {
		const { settings } = this.parts;
		const { encoding } = segmentsOf(message.text);
		return {
			source_addr_ton: settings.sourceTon,
			source_addr_npi: settings.sourceNpi,
			source_addr: settings.source,
			dest_addr_ton: settings.destinationTon,
			dest_addr_npi: settings.destinationNpi,
			destination_addr: number.slice(1),
			validity_period: relativePeriod(settings.validityHours),
			registered_delivery: 1,
			// Left to itself the package says 1, which is another alphabet.
			data_coding: encoding === "GSM-7" ? 0x00 : 0x08,
			short_message:
				parts.length === 1 ? parts[at] : { udh: headerOf(message.idempotencyKey, parts.length, at + 1), message: parts[at] },
		};
	}

	private keepHalf(key: string, taken: (string | undefined)[]): void {
		this.halves.delete(key);
		this.halves.set(key, taken);
		for (const oldest of this.halves.keys()) {
			if (this.halves.size <= MOST_HALVES) break;
			this.halves.delete(oldest);
		}
	}
}

/** @throws whatever isn't the link's */
function lostBy(error: unknown): Delivery {
	if (error instanceof TransientError) return { kind: "refused", reason: error.message, forGood: false };
	throw error;
}

function idIn(answer: Pdu): string {
	return String(answer["message_id"] ?? "");
}

/**
 * The header that lets a phone put segments together.
 * The reference follows from the message's key, so that a segment that is sent again is the same segment to the phone.
 * Source: 3GPP TS 23.040, section 9.2.3.24.1
 */
function headerOf(idempotencyKey: string, total: number, number: number): Buffer {
	const reference = createHash("sha256").update(idempotencyKey).digest()[0] as number;
	return Buffer.from([5, 0, 3, reference, total, number]);
}

/** Source: SMPP Protocol Specification v3.4, section 7.1.1.2, relative time format YYMMDDhhmmss000R */
function relativePeriod(hours: number): string {
	const two = (n: number) => String(Math.floor(n)).padStart(2, "0");
	return `0000${two(hours / 24)}${two(hours % 24)}${two((hours * 60) % 60)}00000R`;
}
