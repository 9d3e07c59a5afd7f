import { createHash } from "node:crypto";
import { InputError, type Problem } from "../../errors/errors.js";
import { phoneE164Of } from "../../programme/import/phone.js";
import type { InboundGateway } from "../../settings/channels/inbound.js";
import { ownWords } from "./own-words.js";
import { assertNone, Fields, postedIn } from "./posted.js";

/** A text as a channel received it. */
export interface Incoming {
	readonly channel: string;
	/** The channel's own id of it: the same text handed in twice is taken once. */
	readonly channelMessageId: string;
	/** E.164 where the channel is a phone; in small letters where it is e-mail. */
	readonly fromAddress: string;
	readonly body: string;
}

const LONGEST_TEXT_BYTES = 4096;
/** Quotes are long; what is left when they are cut off is as short as any text. */
const LONGEST_MAIL_BYTES = 65_536;

/**
 * The texts in what a gateway posted.
 * @throws InputError that names every field that isn't right; 404 where this gateway isn't set up to post texts
 */
export function textsIn(gateway: InboundGateway, bytes: Buffer, nowMs: number): Incoming[] {
	const { channel, text: where, mail } = gateway;
	const problems: Problem[] = [];
	if (!where && !mail) throw new InputError("unknown-subject", "This gateway isn't set up to post texts.", { status: 404 });
	const texts = postedIn(bytes, gateway.body, where?.list).map((posted) => {
		const fields = new Fields(posted, problems);
		const pointers = (where ?? mail) as NonNullable<typeof where | typeof mail>;
		const from = fields.needed(pointers.from, 320);
		const whole = fields.optional(pointers.text, mail ? LONGEST_MAIL_BYTES : LONGEST_TEXT_BYTES) ?? "";
		const atMs = fields.instant(pointers.at, nowMs);
		const id = fields.optional(pointers.id, 200);
		const body = mail ? ownWords(whole) || subjectOf(fields.optional(mail.subject, 1000)) : whole;
		return {
			channel,
			channelMessageId: id || idFromContent(from, whole, atMs),
			fromAddress: mail ? mailAddressOf(from) : phoneAddressOf(from),
			body: firstBytes(body),
		};
	});
	assertNone(problems);
	return texts;
}

/** @returns what stands for the id of a text whose gateway gives none: the same words at the same moment are the same text */
export function idFromContent(from: string, body: string, atMs: number): string {
	return createHash("sha256")
		.update(JSON.stringify([from, body, atMs]))
		.digest("base64url");
}

/**
 * A number in the one form in which people's numbers are kept; gateways often leave the plus sign out, or write 00 for it.
 * What isn't a number stays as it is.
 */
export function phoneAddressOf(from: string): string {
	return phoneE164Of(from) ?? phoneE164Of(`+${from.replace(/^00/, "")}`) ?? from;
}

/** @returns the address in `"Invented Name" <name@example.org>`, in small letters */
function mailAddressOf(from: string): string {
	return (/<([^<>]+)>\s*$/.exec(from)?.[1] ?? from).trim().toLowerCase();
}

function subjectOf(subject = ""): string {
	return subject.replace(/^(\s*(re|aw|sv|rv|tr|enc)\s*:)+\s*/i, "").trim();
}

function firstBytes(body: string): string {
	if (Buffer.byteLength(body) <= LONGEST_TEXT_BYTES) return body;
	return new TextDecoder().decode(Buffer.from(body).subarray(0, LONGEST_TEXT_BYTES)).replace(/\uFFFD+$/, "");
}
