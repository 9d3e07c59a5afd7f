import { valuesOf } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";
import type { Outcome } from "./outcome.js";
import { settledByReceipts } from "./settled-by-receipts.js";

/**
 * Keeps what channels call the messages that they have just taken, in the unit of work that records it, so that receipts find them.
 * A receipt that was quicker is there already and counts; an id that the channel has used before begins anew.
 */
export async function keepChannelIds(
	tx: Transaction,
	outcomes: readonly Outcome[],
	ids: Ids,
	configured: Iterable<string>,
): Promise<void> {
	const rows = new Map<string, readonly unknown[]>();
	for (const { messageId, claim, channel, channelMessageIds = [], endedAtMs } of outcomes)
		for (const [i, id] of channelMessageIds.entries())
			rows.set(`${channel} ${id}`, [ids.next(), channel, id, messageId, claim, i + 1, "accepted", endedAtMs, endedAtMs]);
	if (rows.size === 0) return;
	const told = new Set<string>();
	const all = [...rows.values()];
	for (let from = 0; from < all.length; from += 500) {
		const { text, parameters } = valuesOf(all.slice(from, from + 500));
		const kept = await tx.query<{ messageId: string; state: string }>(
			`INSERT INTO message_receipt (id, channel, channel_message_id, message_id, claim, segment, state, at_ms, received_at_ms) VALUES ${text}
			 ON CONFLICT (channel, channel_message_id) DO UPDATE SET message_id = excluded.message_id, claim = excluded.claim, segment = excluded.segment,
			 state = CASE WHEN message_receipt.message_id <> excluded.message_id THEN excluded.state ELSE message_receipt.state END
			 RETURNING message_id, state`,
			parameters,
		);
		for (const { messageId, state } of kept) if (state !== "accepted") told.add(messageId);
	}
	const nowMs = Math.max(...outcomes.map(({ endedAtMs }) => endedAtMs ?? 0));
	// What waits again after this is found by the dispatcher's next look.
	await settledByReceipts(tx, [...told], { ids, configured, nowMs });
}
