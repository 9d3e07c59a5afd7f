import { z } from "zod";

const seconds = (fallback: number, smallest = 0.01) => z.number().min(smallest).max(3600).default(fallback);
const addressKind = z.int().min(0).max(6);

/**
 * A link to a message centre that speaks SMPP 3.4.
 * Source of the kinds of address: SMPP Protocol Specification v3.4, sections 5.2.5 (TON) and 5.2.6 (NPI)
 */
export const smpp = z.strictObject({
	host: z.string().min(1).max(253),
	port: z.int().min(1).max(65_535).default(2775),
	tls: z.boolean().default(false),
	systemId: z.string().min(1).max(15, "has at most 15 characters"),
	password: z.string().max(8, "has at most 8 characters, as SMPP 3.4 has it"),
	systemType: z.string().max(12).default(""),
	/** Who it comes from: a number, a short code, or a name of at most 11 characters. */
	source: z.string().min(1).max(20),
	sourceTon: addressKind.default(5),
	sourceNpi: z.int().min(0).max(18).default(0),
	destinationTon: addressKind.default(1),
	destinationNpi: z.int().min(0).max(18).default(1),
	/** How receipts write the id that the answer to submit_sm gave: the same, or in decimal what was hexadecimal there. */
	receiptId: z.enum(["same", "decimal"]).default("same"),
	/** Segments on their way without an answer at most. */
	window: z.int().min(1).max(1000).default(10),
	/** How long an answer is waited for. */
	answerSeconds: seconds(10),
	/** How long the link may be quiet before it is looked after. */
	enquireSeconds: seconds(30),
	/** The first wait before a lost link is made again; it doubles up to the longest. */
	reconnectSeconds: seconds(1),
	longestReconnectSeconds: seconds(60),
	/** How long everything rests after the centre says that it is throttled. */
	throttledSeconds: seconds(5),
	/** How long the centre tries to deliver. Longer than 12 h, and what it then gives up is too old for the person's next channel. */
	validityHours: z.number().min(1).max(168).default(8),
});

export type SmppSettings = z.output<typeof smpp>;
