import { Body, Controller, Param, Query } from "@nestjs/common";
import { z } from "zod";
import type { Caller } from "../../access/caller.js";
import { Replies } from "../../duties/replies.js";
import { InputError } from "../../errors/errors.js";
import { phoneAddressOf } from "../../messages/inbound/incoming.js";
import { Store } from "../../store/store.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { code, maskedPhone, utc, utcOf } from "../edge/fields.js";
import { idIfNamed } from "../edge/named.js";
import { Conditions, pageOf, pageQuery, pageSchema, type Sort } from "../edge/page.js";

const OUTCOMES = [
	"accepted",
	"refused",
	"unclear",
	"help",
	"stop",
	"unknown number",
	"not the assignee's",
	"closed already",
	"no open task",
	"put off",
	"not put off",
	"failed",
] as const;

const sorts = {
	"-receivedAt": { column: "r.id", property: "id", kind: "text", descending: true },
	receivedAt: { column: "r.id", property: "id", kind: "text" },
} as const satisfies Record<string, Sort>;

const query = pageQuery(sorts, {
	outcome: z.enum([...OUTCOMES, "received"]).optional(),
	person: code.optional().meta({ description: "Code of whoever wrote" }),
	supervisor: code.optional().meta({ description: "Code of the supervisor of whoever wrote, or of whose task it was about" }),
});

const reply = z
	.strictObject({
		id: z.string(),
		channel: z.string(),
		from: z.string().nullable().meta({ description: "The last three characters" }),
		personCode: z.string().nullable(),
		taskCode: z.string().nullable(),
		text: z.string(),
		outcome: z.string(),
		receivedAt: utc,
	})
	.meta({ id: "Reply" });

interface Row {
	readonly id: string;
	readonly channel: string;
	readonly fromAddress: string;
	readonly personCode: string | null;
	readonly taskCode: string | null;
	readonly body: string;
	readonly outcome: string;
	readonly receivedAtMs: number;
}

const LONGEST_TEXT_BYTES = 4096;

const channelSchema = z.strictObject({
	channel: z.string().regex(/^[a-z][a-z0-9-]{0,39}$/, "is lower-case letters, digits and dashes"),
});

const incoming = z
	.strictObject({
		messageId: z
			.string()
			.min(1)
			.max(200)
			.meta({ description: "The gateway's own id of it: sent again with the same id, it is taken once" }),
		from: z.string().trim().min(1).max(64),
		text: z.string().meta({ description: `At most ${LONGEST_TEXT_BYTES} bytes in UTF-8` }),
	})
	.meta({ id: "IncomingText" });

const received = z
	.strictObject({
		outcome: z.enum(OUTCOMES),
		repeated: z.boolean().optional(),
		taskCode: z.string().nullable().optional().meta({ description: "Absent where the number isn't known" }),
	})
	.meta({ id: "ReceivedText" });

@Controller()
export class RepliesController {
	constructor(
		private readonly store: Store,
		private readonly replies: Replies,
	) {}

	@Endpoint({
		method: "POST",
		path: "/replies/:channel",
		access: "gateway",
		summary: "Takes a text that a gateway received",
		answer: { description: "What became of it", schema: received },
	})
	async receiveReply(
		@Param({ schema: channelSchema }) { channel }: z.output<typeof channelSchema>,
		@Body({ schema: incoming }) { messageId, from, text }: z.output<typeof incoming>,
	): Promise<z.output<typeof received>> {
		if (Buffer.byteLength(text) > LONGEST_TEXT_BYTES)
			throw new InputError("too-large", `A text has at most ${LONGEST_TEXT_BYTES} bytes.`, {
				status: 413,
				problems: [{ at: "/text", message: `must be at most ${LONGEST_TEXT_BYTES} bytes in UTF-8` }],
			});
		const { outcome, repeated, taskCode } = await this.replies.receive({
			channel,
			channelMessageId: messageId,
			fromAddress: phoneAddressOf(from),
			body: text,
		});
		return outcome === "unknown number" ? { outcome } : { outcome, repeated, taskCode };
	}

	@Endpoint({
		method: "GET",
		path: "/replies",
		access: "oversee",
		touches: ["list", "person query.person", "person query.supervisor"],
		summary: "Lists what people texted back, understood or not",
		answer: { description: "Replies, the newest first", schema: pageSchema(reply) },
	})
	async listReplies(@Query({ schema: query }) asked: z.output<typeof query>, @ByCaller() caller: Caller) {
		const personId = await idIfNamed(this.store, "person", asked.person, "person");
		const supervisorId = await idIfNamed(this.store, "person", asked.supervisor, "supervisor");
		const conditions = new Conditions(caller.reach.over("reply", "r"));
		conditions.addIf(asked.outcome, (place, value) => `r.outcome = ${place(value)}`);
		conditions.addIf(personId, (place, value) => `r.person_id = ${place(value)}`);
		conditions.addIf(
			supervisorId,
			(place, value) =>
				`EXISTS (SELECT 1 FROM person o WHERE o.supervisor_id = ${place(value)} AND o.id IN (r.person_id, t.assignee_id))`,
		);
		return pageOf<Row, z.output<typeof reply>>(
			this.store,
			`SELECT r.id, r.channel, r.from_address, p.code AS person_code, t.code AS task_code, r.body, r.outcome, r.received_at_ms
			 FROM reply r LEFT JOIN person p ON p.id = r.person_id LEFT JOIN task t ON t.id = r.task_id`,
			"r.id",
			sorts,
			asked,
			conditions,
			({ fromAddress, body, receivedAtMs, ...item }) => ({
				...item,
				from: maskedPhone(fromAddress),
				text: body,
				receivedAt: utcOf(receivedAtMs),
			}),
		);
	}
}
