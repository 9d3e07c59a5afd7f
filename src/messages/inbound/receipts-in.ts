import { InputError, type Problem } from "../../errors/errors.js";
import type { InboundGateway } from "../../settings/channels/inbound.js";
import type { Receipt } from "../receipts.js";
import type { ReceiptState } from "../rows.js";
import { assertNone, Fields, postedIn } from "./posted.js";

/**
 * The receipts in what a gateway posted.
 * @param nowMs when it came, epoch milliseconds
 * @throws InputError that names every field that isn't right; 404 where this gateway isn't set up to tell of receipts
 */
export function receiptsIn(gateway: InboundGateway, bytes: Buffer, nowMs: number): Receipt[] {
	const where = gateway.receipt;
	if (!where) throw new InputError("unknown-subject", "This gateway isn't set up to post receipts.", { status: 404 });
	const problems: Problem[] = [];
	const receipts = postedIn(bytes, gateway.body, where.list).map((posted): Receipt => {
		const fields = new Fields(posted, problems);
		const status = fields.needed(where.status, 100);
		const reason = fields.optional(where.reason, 200);
		return {
			channel: gateway.channel,
			channelMessageId: fields.needed(where.id, 200),
			state: stateOf(status, where),
			reason: [status, reason].filter(Boolean).join(" ").slice(0, 200) || null,
			atMs: fields.instant(where.at, nowMs),
		};
	});
	assertNone(problems);
	return receipts;
}

const STATES = ["delivered", "failed", "expired"] as const;

/** A word that the settings don't know says no more than that the gateway has it. */
function stateOf(status: string, words: Readonly<Record<(typeof STATES)[number], readonly string[]>>): ReceiptState {
	const said = status.toLowerCase();
	return STATES.find((state) => words[state].some((word) => word.toLowerCase() === said)) ?? "accepted";
}
