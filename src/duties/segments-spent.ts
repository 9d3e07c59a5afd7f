import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { DAY_MS } from "../time/clock.js";
import { firstIdAt } from "../time/ids.js";
import { instantOfLocal, localDateOf } from "../time/local.js";
import type { Reachable } from "./reachable.js";

/** A message is hardly ever older than this when it goes; older ones are left out of a day's count. */
const OLDEST_MS = 7 * DAY_MS;

/** @returns by person, the segments of SMS that went to her since her last midnight, or are about to go */
export async function segmentsOfDay(
	tx: Pick<Transaction, "query">,
	people: readonly Reachable[],
	nowMs: number,
): Promise<ReadonlyMap<string, number>> {
	const spent = new Map<string, number>();
	for (const timeZone of new Set(people.map((person) => person.timeZone))) {
		const those = people.filter((person) => person.timeZone === timeZone);
		const midnightMs = instantOfLocal(localDateOf(nowMs, timeZone), "00:00", timeZone);
		const rows = await tx.query<{ id: string; segments: number | string }>(
			`SELECT recipient_id AS id, SUM(COALESCE(segments, 1)) AS segments FROM message
			 WHERE recipient_id IN (${placeholders(those.length, 3)}) AND created_at_ms >= $1
			   AND (state IN ('waiting', 'claimed') OR (state = 'sent' AND ended_at_ms >= $2)) GROUP BY recipient_id`,
			[midnightMs - OLDEST_MS, midnightMs, ...those.map(({ id }) => id)],
		);
		for (const { id, segments } of rows) spent.set(id, Number(segments));
	}
	return spent;
}

/** @returns the segments of SMS of the messages that were made in this month, UTC, and have gone or are about to go */
export async function segmentsOfMonth(tx: Pick<Transaction, "query">, nowMs: number): Promise<number> {
	const monthMs = instantOfLocal(`${localDateOf(nowMs, "UTC").slice(0, 7)}-01`, "00:00", "UTC");
	const [row] = await tx.query<{ segments: number | string | null }>(
		"SELECT SUM(COALESCE(segments, 1)) AS segments FROM message WHERE id >= $1 AND state IN ('waiting', 'claimed', 'sent')",
		[firstIdAt(monthMs)],
	);
	return Number(row?.segments ?? 0);
}
