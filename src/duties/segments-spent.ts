import { placeholders } from "../store/sql.js";
import type { Store } from "../store/store.js";
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

/** A month's segments as they stood when they were summed up. */
export interface MonthSpent {
	/** Year and month, UTC. */
	readonly month: string;
	readonly segments: number;
	/** How many of them had been let go under the cap. */
	readonly letGo: number;
}

/** @returns the segments of SMS of the messages that were made in this month, UTC, and have gone or are about to go */
export async function segmentsOfMonth(store: Pick<Store, "query">, nowMs: number): Promise<MonthSpent> {
	const month = localDateOf(nowMs, "UTC").slice(0, 7);
	// One statement, so that the sum and the count are of the same moment.
	const [row] = await store.query<{ segments: number | string | null; letGo: number | null }>(
		`SELECT (SELECT SUM(COALESCE(segments, 1)) FROM message WHERE id >= $1 AND state IN ('waiting', 'claimed', 'sent')) AS segments,
		        (SELECT let_go FROM month_segments WHERE month = $2) AS let_go`,
		[firstIdAt(instantOfLocal(`${month}-01`, "00:00", "UTC")), month],
	);
	return { month, segments: Number(row?.segments ?? 0), letGo: row?.letGo ?? 0 };
}

/**
 * What the month's segments have come to, with what others let go since they were summed up. Nobody else lets any go under the cap
 * until the unit of work has ended.
 */
export async function spentSince(tx: Transaction, { month, segments, letGo }: MonthSpent): Promise<number> {
	const [row] = await tx.query<{ letGo: number }>(
		`INSERT INTO month_segments (month, let_go) VALUES ($1, 0)
		 ON CONFLICT (month) DO UPDATE SET let_go = month_segments.let_go RETURNING let_go`,
		[month],
	);
	return segments + (row?.letGo ?? 0) - letGo;
}

/** Counts what goes; whoever has asked for `spentSince` in the same unit of work. */
export async function countLetGo(tx: Transaction, { month }: MonthSpent, segments: number): Promise<void> {
	if (segments > 0) await tx.affected("UPDATE month_segments SET let_go = let_go + $1 WHERE month = $2", [segments, month]);
}
