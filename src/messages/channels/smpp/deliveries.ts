import { createHash } from "node:crypto";
import type { Pdu } from "smpp";
import type { SmppSettings } from "../../../settings/channels/smpp.js";
import type { Clock } from "../../../time/clock.js";
import { phoneAddressOf } from "../../inbound/incoming.js";
import type { Inbox } from "../../inbox.js";
import { Assembly, partNumberIn } from "./assembly.js";
import { receiptIn } from "./receipt.js";

/** Bits 5 to 2 of esm_class: 0001 a receipt, 1000 an intermediate notification. Source: SMPP Protocol Specification v3.4, section 5.2.12 */
const KIND = 0x3c;
const RECEIPT = 0x04;
const INTERMEDIATE = 0x20;

/**
 * A centre that has heard no answer hands the same text in again, without an id by which it could be known.
 * The same words from the same number within this time are one text: taken twice, a number alone could be read as the answer to another task.
 */
const SAME_TEXT_MS = 600_000;

/** Takes what a message centre hands in: receipts, and people's texts. */
export class Deliveries {
	private readonly assembly = new Assembly();

	constructor(
		private readonly settings: Pick<SmppSettings, "receiptId">,
		private readonly inbox: Inbox,
		private readonly clock: Clock,
	) {}

	/** Resolves once it is kept. */
	async take(pdu: Pdu): Promise<void> {
		const kind = Number(pdu["esm_class"] ?? 0) & KIND;
		if (kind === RECEIPT || kind === INTERMEDIATE) await this.receipt(pdu);
		else await this.text(pdu);
	}

	private async receipt(pdu: Pdu): Promise<void> {
		const { text } = contentOf(pdu);
		const given = { id: textOf(pdu["receipted_message_id"]), state: numberOf(pdu["message_state"]) };
		const { id, state, reason } = receiptIn(text, given, this.settings.receiptId);
		await this.inbox.receipts([{ channel: "smpp", channelMessageId: id, state, reason, atMs: this.clock.nowMs() }]);
	}

	private async text(pdu: Pdu): Promise<void> {
		const nowMs = this.clock.nowMs();
		const from = textOf(pdu["source_addr"]) ?? "";
		const { text, header } = contentOf(pdu);
		const part = partNumberIn(header);
		const whole = part ? this.assembly.add({ from, text, ...part }, nowMs) : [{ from, text }];
		const reference = numberOf(pdu["user_message_reference"]);
		for (const one of whole)
			await this.inbox.text({
				channel: "smpp",
				channelMessageId: idOf(one.from, one.text, reference ?? null, nowMs),
				fromAddress: phoneAddressOf(one.from),
				body: one.text.slice(0, 4096),
			});
	}
}

function idOf(from: string, text: string, reference: number | null, nowMs: number): string {
	const moment = Math.floor(nowMs / SAME_TEXT_MS);
	return createHash("sha256")
		.update(JSON.stringify([from, text, reference, moment]))
		.digest("base64url");
}

/** The package gives a text, or its bytes where it doesn't know the alphabet; long ones come as an optional parameter. */
function contentOf(pdu: Pdu): { text: string; header: readonly Uint8Array[] } {
	type Content = { message?: unknown; udh?: readonly Uint8Array[] } | undefined;
	const short = pdu["short_message"] as Content;
	const long = pdu["message_payload"] as Content;
	const message = short?.message && (short.message as { length: number }).length > 0 ? short.message : long?.message;
	return { text: textOf(message) ?? "", header: short?.udh ?? long?.udh ?? [] };
}

/** Without what a database can't keep: handed in again and again it would block whatever comes behind it. */
function textOf(value: unknown): string | undefined {
	const text = Buffer.isBuffer(value) ? value.toString("latin1") : value;
	return typeof text === "string" ? text.replaceAll("\0", "").replace(/\p{Surrogate}/gu, "\uFFFD") : undefined;
}

function numberOf(value: unknown): number | undefined {
	return typeof value === "number" ? value : undefined;
}
