import { Body, Controller, Query } from "@nestjs/common";
import { z } from "zod";
import { BEGINNING } from "../../ledger/chain.js";
import { Heads, headFrom, headText, WAYS_OUT } from "../../ledger/heads.js";
import { headOf, waitingOf } from "../../ledger/sealer.js";
import { verifyLedger } from "../../ledger/verify.js";
import { Store } from "../../store/store.js";
import { Endpoint } from "../edge/endpoint.js";
import { utc, utcOf, utcOrNull } from "../edge/fields.js";

/** So many entries are held against the chain where nothing is said: a request is to be answered soon. */
const ENTRIES_AT_LEAST = 20_000;

const head = z
	.strictObject({
		position: z.int().meta({ description: "Of the last entry that is sealed; 0: none is" }),
		hash: z.string().meta({ description: "Over everything up to there: 64 hexadecimal digits" }),
		text: z.string().meta({ description: "As it is printed and brought along: the position and eight groups of digits" }),
		sealedAt: utc.nullable(),
		waitingEntries: z.int().meta({ description: "Entries that are kept and not sealed yet" }),
		oldestWaitingAt: utc.nullable(),
	})
	.meta({ id: "LedgerHead" });

const given = z
	.strictObject({ position: z.int(), hash: z.string(), text: z.string(), givenAt: utc, how: z.enum(WAYS_OUT) })
	.meta({ id: "LedgerHeadGiven" });

const givenList = z.strictObject({ heads: z.array(given) }).meta({ id: "LedgerHeadsGiven" });
const wanted = z
	.strictObject({ how: z.enum(WAYS_OUT).meta({ description: "How it leaves the ledger" }) })
	.meta({ id: "LedgerHeadWanted" });

const query = z.strictObject({
	from: z.coerce
		.number()
		.int()
		.min(1)
		.max(Number.MAX_SAFE_INTEGER)
		.optional()
		.meta({ description: "Position to begin at; 1 is the whole. Without: the last 20,000 entries" }),
	anchor: z.string().max(200).optional().meta({ description: "A head that was kept outside, as it was printed" }),
});

const verification = z
	.strictObject({
		whole: z.boolean(),
		fromPosition: z.int(),
		headPosition: z.int(),
		entries: z.int().meta({ description: "Entries that were held against the chain" }),
		headsThatAgree: z.int().meta({ description: "Of those that were given out or brought along, from the first position on" }),
		waitingEntries: z.int(),
		findings: z.array(
			z.strictObject({
				kind: z.enum(["changed", "removed", "inserted", "reordered", "link changed", "other head"]),
				position: z.int().nullable(),
				entryId: z.string().nullable(),
				message: z.string(),
			}),
		),
		more: z.int().meta({ description: "Findings beyond those" }),
	})
	.meta({ id: "LedgerVerification" });

@Controller()
export class LedgerChainController {
	constructor(
		private readonly store: Store,
		private readonly heads: Heads,
	) {}

	@Endpoint({
		method: "GET",
		path: "/ledger/head",
		access: "audit",
		touches: ["nothing"],
		summary: "Tells the head of the ledger, and what isn't sealed yet",
		answer: { description: "The end of its chain", schema: head },
	})
	async head(): Promise<z.output<typeof head>> {
		const [{ position, hash, sealedAtMs }, { entries, oldestAtMs }] = await Promise.all([
			headOf(this.store),
			waitingOf(this.store),
		]);
		return {
			...{ position, hash, text: headText({ position, hash }), sealedAt: utcOrNull(sealedAtMs) },
			...{ waitingEntries: entries, oldestWaitingAt: utcOrNull(oldestAtMs) },
		};
	}

	@Endpoint({
		method: "POST",
		path: "/ledger/heads",
		access: "audit",
		touches: ["nothing"],
		summary: "Gives the head out, to be kept outside",
		description: "It is noted, and every verification from then on holds the ledger against it.",
		answer: { status: 201, description: "The head as it is printed", schema: given },
	})
	async give(@Body({ schema: wanted }) { how }: z.output<typeof wanted>): Promise<z.output<typeof given>> {
		const { position, hash, givenAtMs } = await this.heads.give(how, "office");
		return { position, hash, text: headText({ position, hash }), givenAt: utcOf(givenAtMs), how };
	}

	@Endpoint({
		method: "GET",
		path: "/ledger/heads",
		access: "audit",
		touches: ["nothing"],
		summary: "Lists the heads that were given out",
		answer: { description: "The newest first", schema: givenList },
	})
	async given(): Promise<z.output<typeof givenList>> {
		const heads = await this.heads.given();
		return {
			heads: heads.map(({ position, hash, givenAtMs, how }) => ({
				...{ position, hash, text: headText({ position, hash }), givenAt: utcOf(givenAtMs), how },
			})),
		};
	}

	@Endpoint({
		method: "GET",
		path: "/ledger/verification",
		access: "audit",
		touches: ["nothing"],
		summary: "Holds entries against the chain, and the chain against heads",
		description: "A long ledger is better verified whole by the command `jarwatch ledger verify`.",
		answer: { description: "What was looked at, and everything that doesn't agree, by name", schema: verification },
	})
	async verify(@Query({ schema: query }) asked: z.output<typeof query>): Promise<z.output<typeof verification>> {
		const outside = asked.anchor === undefined ? [] : [headFrom(asked.anchor)];
		const { position } = await headOf(this.store);
		const from = asked.from ?? Math.max(BEGINNING.position + 1, position - ENTRIES_AT_LEAST + 1);
		const { head, entries, anchors, waiting, findings, more, ...seen } = await verifyLedger(this.store, from, outside);
		return {
			whole: findings.length === 0,
			fromPosition: seen.from,
			headPosition: head.position,
			entries,
			headsThatAgree: anchors,
			waitingEntries: waiting.entries,
			findings: [...findings],
			more,
		};
	}
}
