import { createHash } from "node:crypto";
import type { ReceiptState } from "../../rows.js";

/** What a deliver_sm says that is a receipt. */
export interface ReceiptText {
	readonly id: string;
	readonly state: ReceiptState;
	/** The centre's words: state and error. */
	readonly reason: string;
}

const BY_WORD: Readonly<Record<string, ReceiptState>> = {
	DELIVRD: "delivered",
	EXPIRED: "expired",
	DELETED: "failed",
	UNDELIV: "failed",
	REJECTD: "failed",
};

/** Source: SMPP Protocol Specification v3.4, section 5.2.28 */
const BY_NUMBER: Readonly<Record<number, ReceiptState>> = { 2: "delivered", 3: "expired", 4: "failed", 5: "failed", 8: "failed" };

/**
 * Reads a receipt, by its optional parameters where it has them, else by its text; both are often half right.
 * What can't be read is still a receipt: of something unknown, and of no more than that the centre has it.
 * @param text such as `id:0123456789 sub:001 dlvrd:001 submit date:2603050900 done date:2603050901 stat:DELIVRD err:000 text:Test jar`
 * @param given optional parameters receipted_message_id and message_state
 * @param spelling how the text writes the id of submit_sm_resp; in either case the result is spelt as `spelt` does
 * Source: SMPP Protocol Specification v3.4, appendix B; sections 5.3.2.12 and 5.3.2.35
 */
export function receiptIn(
	text: string,
	given: { readonly id?: string | undefined; readonly state?: number | undefined },
	spelling: "same" | "decimal",
): ReceiptText {
	const inText = /\bid:([^\s:]{1,65})/i.exec(text)?.[1];
	const word = /\bstat:([A-Z]{5,10})/i.exec(text)?.[1]?.toUpperCase();
	const error = /\berr:(\S{1,10})/i.exec(text)?.[1];
	const id = given.id ? spelt(given.id, spelling) : inText && (spelling === "decimal" ? hexOf(inText) : inText);
	const state = BY_WORD[word ?? ""] ?? (given.state === undefined ? undefined : BY_NUMBER[given.state]) ?? "accepted";
	const said = word ?? (given.state === undefined ? "unreadable" : `state ${given.state}`);
	return {
		id: id || `unreadable-${createHash("sha256").update(text).digest("base64url").slice(0, 24)}`,
		state,
		reason: error && Number(error) !== 0 ? `${said} ${error}` : said,
	};
}

/** @returns the id of submit_sm_resp as receipts are looked for: where they write it in decimal, in small hex without zeros before it */
export function spelt(id: string, spelling: "same" | "decimal"): string {
	return spelling === "decimal" && /^[0-9a-f]+$/i.test(id) ? BigInt(`0x${id}`).toString(16) : id;
}

function hexOf(decimal: string): string {
	return /^\d+$/.test(decimal) ? BigInt(decimal).toString(16) : decimal;
}
