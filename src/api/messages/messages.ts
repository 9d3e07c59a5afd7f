import { Controller, Query } from "@nestjs/common";
import { z } from "zod";
import type { Caller } from "../../access/caller.js";
import { withoutSecrets } from "../../log/log.js";
import { deliveryOf, type SegmentReceipt } from "../../messages/delivery.js";
import type { ReceiptState } from "../../messages/rows.js";
import { Store } from "../../store/store.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { code, utc, utcOf, utcOrNull } from "../edge/fields.js";
import { idIfNamed } from "../edge/named.js";
import { Conditions, pageOf, pageQuery, pageSchema, type Sort } from "../edge/page.js";

const sorts = {
	"-createdAt": { column: "m.id", property: "id", kind: "text", descending: true },
	createdAt: { column: "m.id", property: "id", kind: "text" },
} as const satisfies Record<string, Sort>;

const state = z.enum(["held", "merged", "waiting", "claimed", "sent", "failed", "withdrawn", "stale", "withheld"]);

const query = pageQuery(sorts, {
	state: state.optional(),
	recipient: code.optional().meta({ description: "Code of a person" }),
	task: code.optional().meta({ description: "Code of a task" }),
});

const message = z
	.strictObject({
		id: z.string(),
		recipientCode: z.string(),
		taskCode: z.string().nullable(),
		text: z.string().meta({ description: "Name of the text in the catalogues" }),
		urgent: z.boolean(),
		state,
		createdAt: utc,
		nextTryAt: utc.nullable(),
		failedTries: z.int(),
		channel: z.string().nullable(),
		endedAt: utc.nullable(),
		receipt: z
			.enum(["accepted", "delivered", "failed", "expired"])
			.nullable()
			.meta({ description: "What its channel told of it since; null: nothing" }),
		answer: z.string().nullable().meta({ description: "What the channel answered last" }),
		segments: z.int().nullable().meta({ description: "Parts of SMS that it was when it went; null: it hasn't gone by itself" }),
		encoding: z.enum(["GSM-7", "UCS-2"]).nullable(),
		heldUntil: utc.nullable(),
		heldBecause: z.string().nullable().meta({ description: "Why it was held back once more when its time had come" }),
		toldBy: z.string().nullable().meta({ description: "Id of the message that tells of it together with others" }),
	})
	.meta({ id: "Message" });

interface Row
	extends Pick<
		z.output<typeof message>,
		| "id"
		| "recipientCode"
		| "taskCode"
		| "text"
		| "state"
		| "channel"
		| "answer"
		| "segments"
		| "encoding"
		| "heldBecause"
		| "toldBy"
	> {
	readonly heldUntilMs: number | null;
	readonly urgent: boolean | number;
	readonly createdAtMs: number;
	readonly nextTryAtMs: number | null;
	readonly tries: number;
	readonly endedAtMs: number | null;
	/** `1 delivered,1 accepted`: claim and state of each. */
	readonly receipts: string | null;
}

@Controller()
export class MessagesController {
	constructor(private readonly store: Store) {}

	@Endpoint({
		method: "GET",
		path: "/messages",
		access: "look",
		touches: ["list", "person query.recipient", "task query.task"],
		summary: "Lists what people were told, or are to be told",
		answer: { description: "Messages, the newest first", schema: pageSchema(message) },
	})
	async listMessages(@Query({ schema: query }) asked: z.output<typeof query>, @ByCaller() caller: Caller) {
		const recipientId = await idIfNamed(this.store, "person", asked.recipient, "recipient");
		const conditions = new Conditions(caller.reach.over("message", "m"));
		conditions.addIf(asked.state, (place, value) => `m.state = ${place(value)}`);
		conditions.addIf(recipientId, (place, value) => `m.recipient_id = ${place(value)}`);
		conditions.addIf(
			asked.task?.toUpperCase(),
			(place, value) => `m.task_id IN (SELECT id FROM task WHERE code = ${place(value)})`,
		);
		return pageOf<Row, z.output<typeof message>>(
			this.store,
			`SELECT m.id, p.code AS recipient_code, t.code AS task_code, m.text, m.urgent, m.state, m.created_at_ms, m.next_try_at_ms, m.tries, m.channel, m.ended_at_ms, m.answer, m.segments, m.encoding, m.held_until_ms, m.held_because, m.digest_id AS told_by,
			  (SELECT string_agg(r.claim || ' ' || r.state, ',') FROM message_receipt r WHERE r.message_id = m.id AND r.channel = m.channel) AS receipts
			 FROM message m JOIN person p ON p.id = m.recipient_id LEFT JOIN task t ON t.id = m.task_id`,
			"m.id",
			sorts,
			asked,
			conditions,
			itemOf,
		);
	}
}

function itemOf({
	urgent,
	createdAtMs,
	nextTryAtMs,
	endedAtMs,
	tries,
	answer,
	heldUntilMs,
	receipts,
	...item
}: Row): z.output<typeof message> {
	return {
		...item,
		urgent: Boolean(urgent),
		createdAt: utcOf(createdAtMs),
		nextTryAt: utcOrNull(nextTryAtMs),
		failedTries: tries,
		heldUntil: utcOrNull(heldUntilMs),
		endedAt: utcOrNull(endedAtMs),
		receipt: deliveryOf(segmentsIn(receipts)) ?? null,
		// Gateways like to repeat the number in what they answer.
		answer: answer === null ? null : withoutSecrets(answer),
	};
}

function segmentsIn(receipts: string | null): SegmentReceipt[] {
	return (receipts?.split(",") ?? []).map((one) => {
		const [claim, state] = one.split(" ");
		return { claim: Number(claim), state: state as ReceiptState };
	});
}
