import { z } from "zod";

const address = z.email("must be an e-mail address").max(254);

/** The mail server that takes messages for sending. */
export const email = z.strictObject({
	host: z.string().min(1).max(253),
	port: z.int().min(1).max(65_535).default(587),
	/** "start": TLS begins after the greeting and is asked for; "whole": from the first byte on; "none": only on this machine or a network of one's own. */
	tls: z.enum(["start", "whole", "none"]).default("start"),
	user: z.string().min(1).optional(),
	password: z.string().min(1).optional(),
	from: address,
	fromName: z.string().max(60).default("Jarwatch"),
	/** Where answers go; left out: where it came from. */
	replyTo: address.optional(),
	subject: z.string().min(1).max(120).default("Jarwatch"),
	/** How long an answer is waited for. */
	answerSeconds: z.number().min(0.01).max(300).default(10),
	connections: z.int().min(1).max(20).default(2),
});

export type EmailSettings = z.output<typeof email>;
