import { Controller, Param, Query } from "@nestjs/common";
import { z } from "zod";
import type { Caller } from "../../access/caller.js";
import { withoutSecrets } from "../../log/log.js";
import { failedCounts } from "../../messages/failed-counts.js";
import { Store } from "../../store/store.js";
import { Clock, DAY_MS } from "../../time/clock.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { code, instant, utc, utcOf } from "../edge/fields.js";
import { idIfNamed, withinArea } from "../edge/named.js";

const byId = z.strictObject({ id: z.string().regex(/^[0-9a-z]{1,40}$/, "is an id of small letters and digits") });

const receipt = z
	.strictObject({
		channel: z.string(),
		segment: z.int().nullable(),
		state: z.enum(["accepted", "delivered", "failed", "expired"]),
		reason: z.string().nullable().meta({ description: "The channel's own words" }),
		at: utc,
		receivedAt: utc,
	})
	.meta({ id: "Receipt" });
const receipts = z.strictObject({ items: z.array(receipt) }).meta({ id: "Receipts" });

interface Row {
	readonly channel: string;
	readonly segment: number | null;
	readonly state: z.output<typeof receipt>["state"];
	readonly reason: string | null;
	readonly atMs: number;
	readonly receivedAtMs: number;
}

const asked = z.strictObject({
	since: instant.optional().meta({ description: "Messages made from then on; left out: of the last 30 days" }),
	area: code.optional().meta({ description: "Code of an area; those below it count too" }),
});

const count = z
	.strictObject({
		channel: z.string().nullable().meta({ description: "The one that was tried last; null: none of the person's is configured" }),
		areaCode: z.string(),
		failed: z
			.int()
			.meta({ description: "Given up on every channel, because each refused it, or told afterwards that it did not arrive" }),
		sent: z.int(),
	})
	.meta({ id: "FailedCount" });
const counts = z.strictObject({ items: z.array(count) }).meta({ id: "FailedCounts" });

@Controller()
export class ReceiptsController {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "GET",
		path: "/messages/:id/receipts",
		access: "oversee",
		touches: ["message path.id"],
		summary: "Tells what channels said of a message after they had taken it",
		answer: { description: "Receipts, by segment", schema: receipts },
	})
	async listReceipts(@Param({ schema: byId }) { id }: z.output<typeof byId>): Promise<z.output<typeof receipts>> {
		const rows = await this.store.query<Row>(
			"SELECT channel, segment, state, reason, at_ms, received_at_ms FROM message_receipt WHERE message_id = $1 ORDER BY received_at_ms, segment, id",
			[id],
		);
		return {
			items: rows.map(({ atMs, receivedAtMs, reason, ...row }) => ({
				...row,
				reason: reason === null ? null : withoutSecrets(reason),
				at: utcOf(atMs),
				receivedAt: utcOf(receivedAtMs),
			})),
		};
	}

	@Endpoint({
		method: "GET",
		path: "/messages/failed-counts",
		access: "oversee",
		touches: ["list", "area query.area"],
		summary: "Counts the messages that failed, by channel and area",
		answer: { description: "Most failures first", schema: counts },
	})
	async countFailed(
		@Query({ schema: asked }) { since, area }: z.output<typeof asked>,
		@ByCaller() caller: Caller,
	): Promise<z.output<typeof counts>> {
		const areaId = await idIfNamed(this.store, "area", area, "area");
		const parameters: unknown[] = [];
		// The instant is the first parameter of the statement.
		const place = (value: unknown) => `$${parameters.push(value) + 1}`;
		const limit = caller.reach.over("person", "p").text(place);
		const text = areaId === undefined ? limit : `${limit} AND ${withinArea("p.area_id", place(areaId))}`;
		return { items: await failedCounts(this.store, since ?? this.clock.nowMs() - 30 * DAY_MS, { text, parameters }) };
	}
}
