import type { Store } from "../store/store.js";
import { FAILED } from "./delivery.js";

/** How messages of one channel to the people of one area ended. */
export interface FailedCount {
	/** The channel that was tried last; none: no channel of the person's is configured. */
	readonly channel: string | null;
	readonly areaCode: string;
	readonly failed: number;
	/** Of the others, those that a channel took and of which it told nothing else since. */
	readonly sent: number;
}

/**
 * Counts what failed and what was sent, by channel and area.
 * @param sinceMs messages that were made from this instant on, epoch milliseconds
 * @param areas a condition on the id of the person's area, and its parameters from $2 on
 */
export function failedCounts(
	store: Pick<Store, "query">,
	sinceMs: number,
	areas: { readonly text: string; readonly parameters: readonly unknown[] } = { text: "", parameters: [] },
): Promise<FailedCount[]> {
	return store.query<FailedCount>(
		`SELECT m.channel, a.code AS area_code, sum(CASE m.state WHEN '${FAILED}' THEN 1 ELSE 0 END) AS failed, sum(CASE m.state WHEN 'sent' THEN 1 ELSE 0 END) AS sent
		 FROM message m JOIN person p ON p.id = m.recipient_id JOIN area a ON a.id = p.area_id
		 WHERE m.created_at_ms >= $1 AND m.state IN ('${FAILED}', 'sent')${areas.text && ` AND ${areas.text}`}
		 GROUP BY m.channel, a.code ORDER BY failed DESC, a.code, m.channel`,
		[sinceMs, ...areas.parameters],
	);
}

/** @returns how many messages have failed by channel, whenever it was; from an index of failed messages alone */
export function failedByChannel(store: Pick<Store, "query">): Promise<{ channel: string | null; number: number }[]> {
	return store.query(`SELECT channel, count(*) AS number FROM message WHERE state = '${FAILED}' GROUP BY channel`);
}

/** @returns how many receipts came for something that isn't known here, by channel */
export function unknownReceipts(store: Pick<Store, "query">): Promise<{ channel: string; number: number }[]> {
	return store.query("SELECT channel, count(*) AS number FROM message_receipt WHERE message_id IS NULL GROUP BY channel");
}
