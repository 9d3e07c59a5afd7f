import { z } from "zod";
import { pointer } from "./sms-gateway.js";

const words = z.array(z.string()).default([]);
const header = z
	.string()
	.regex(/^[A-Za-z0-9-]{1,60}$/, "must be the name of a header field")
	.transform((name) => name.toLowerCase());
const secret = z.string().min(16, "is too short: use at least 16 characters");

/** How a gateway shows that it is the one: a secret of its own in a header field, a password, or a signature over what it posts. */
const proof = z.discriminatedUnion("by", [
	z.strictObject({ by: z.literal("secret"), header: header.default("x-inbound-secret"), secret }),
	z.strictObject({ by: z.literal("basic"), user: z.string().min(1), password: secret }),
	z.strictObject({
		by: z.literal("signature"),
		/** HMAC over the body, byte for byte. */
		header,
		secret,
		hash: z.enum(["sha256", "sha512"]).default("sha256"),
		encoding: z.enum(["hex", "base64"]).default("hex"),
		/** What stands before the signature, such as "sha256=". */
		prefix: z.string().max(20).default(""),
	}),
]);

/** Where a receipt says what: JSON Pointers into the posted JSON or form. */
const receipt = z.strictObject({
	/** Where the list is, when several come at once; everything else is looked for in each of its items. */
	list: pointer.optional(),
	id: pointer,
	status: pointer,
	reason: pointer.optional(),
	/** When it happened: ISO 8601, or seconds or milliseconds since 1970. Left out: when it came. */
	at: pointer.optional(),
	/** The gateway's words; anything else is kept as accepted. Capital or small letters are the same. */
	accepted: words,
	delivered: words,
	failed: words,
	expired: words,
});

/** A gateway posts again what it isn't sure of: without either, it would be taken twice. */
const hasKey = ({ id, at }: { id?: string | undefined; at?: string | undefined }) => id !== undefined || at !== undefined;
const NO_KEY = 'must have "id" or "at", by which a text that is posted again is known';

const text = z
	.strictObject({
		list: pointer.optional(),
		/** The gateway's own id of the text; where it has none, its content and time stand for it. */
		id: pointer.optional(),
		from: pointer,
		text: pointer,
		at: pointer.optional(),
	})
	.refine(hasKey, NO_KEY);

/** A relay that posts incoming e-mail. */
const mail = z.strictObject({
	id: pointer.optional(),
	from: pointer,
	subject: pointer.optional(),
	text: pointer,
	at: pointer.optional(),
});

/** A gateway that posts to this service: receipts, incoming texts, or incoming mail. */
export const inboundGateway = z
	.strictObject({
		/** Whose receipts these are, and as what channel its texts are kept. */
		channel: z.string().regex(/^[a-z][a-z0-9-]{0,39}$/, "must be lower-case letters, digits and dashes"),
		body: z.enum(["json", "form"]).default("json"),
		proof,
		receipt: receipt.optional(),
		text: text.optional(),
		mail: mail.optional(),
	})
	.refine(({ receipt, text, mail }) => receipt || text || mail, 'must have "receipt", "text" or "mail"')
	.refine(({ text, mail }) => !(text && mail), '"text" and "mail" can\'t both stand here: name two gateways');

export const inbound = z.record(
	z.string().regex(/^[a-z][a-z0-9-]{0,39}$/, "must be lower-case letters, digits and dashes"),
	inboundGateway,
);

export type InboundGateway = z.output<typeof inboundGateway>;
