import type { Store } from "../store/store.js";
import { only } from "../store/unit-of-work.js";
import { MINUTE_MS } from "../time/clock.js";

/** So many slots ahead of now may be taken at most: more than that is the mark of a clock that was wrong, and isn't waited for. */
const MOST_AHEAD = 1000;

/** Slots are taken one after the other, by whichever process asks first, in one statement: no two ever get the same. */
const TAKE = `INSERT INTO channel_pace (channel, free_from_ms) VALUES ($1, CAST($2 AS double precision) + CAST($3 AS double precision))
	ON CONFLICT (channel) DO UPDATE SET free_from_ms = CAST($3 AS double precision)
		+ CASE WHEN channel_pace.free_from_ms BETWEEN $2 AND CAST($4 AS double precision) THEN channel_pace.free_from_ms ELSE CAST($2 AS double precision) END
	RETURNING free_from_ms`;

/** Instants at which one message each may go through a channel, given out once among all processes on one database. */
export class SendSlots {
	constructor(private readonly store: Store) {}

	/**
	 * Takes the next slots of a channel, in a unit of work of its own.
	 * @param count how many, at least 1
	 * @param stepMs between one slot and the next, above 0
	 * @param notBeforeMs epoch milliseconds; what was free before that is lost
	 * @returns when the first of them begins, epoch milliseconds; the others follow it
	 */
	async take(channel: string, count: number, stepMs: number, notBeforeMs: number): Promise<number> {
		const takesMs = count * stepMs;
		const aheadMs = Math.max(MINUTE_MS, MOST_AHEAD * stepMs);
		const rows = await this.store.work.single<{ freeFromMs: number }>(TAKE, [
			channel,
			notBeforeMs,
			takesMs,
			notBeforeMs + aheadMs,
		]);
		return Number(only(rows).freeFromMs) - takesMs;
	}
}
