import { FAILED } from "../../messages/delivery.js";
import type { Store } from "../../store/store.js";
import { idsFrom } from "../../time/ids.js";

/** What has happened in a stretch of time, by what a monitoring system tells apart. */
export interface Events {
	/** Messages by channel and outcome. */
	readonly messages: readonly { readonly channel: string | null; readonly outcome: string; readonly number: number }[];
	/** Texts that came in, by what became of them. */
	readonly answers: readonly { readonly result: string; readonly number: number }[];
}

/**
 * Counts what happened from one instant until before another; each statement reads that stretch of an index and no more. Ids begin
 * with the time of their making, so that the primary keys serve as such.
 */
export async function eventsBetween(store: Pick<Store, "query">, fromMs: number, beforeMs: number): Promise<Events> {
	const between = [idsFrom(fromMs), idsFrom(beforeMs)];
	const [ended, refused, answers] = await Promise.all([
		store.query<{ channel: string | null; state: string; number: number }>(
			"SELECT channel, state, count(*) AS number FROM message WHERE ended_at_ms >= $1 AND ended_at_ms < $2 GROUP BY channel, state",
			[fromMs, beforeMs],
		),
		store.query<{ channel: string; number: number }>(
			"SELECT channel, sum(CASE WHEN for_good THEN 0 ELSE 1 END) AS number FROM message_failure WHERE id >= $1 AND id < $2 GROUP BY channel",
			between,
		),
		store.query<{ result: string; number: number }>(
			"SELECT outcome AS result, count(*) AS number FROM reply WHERE id >= $1 AND id < $2 GROUP BY outcome",
			between,
		),
	]);
	return {
		messages: [
			...ended.map(({ channel, state, number }) => ({ channel, outcome: OUTCOMES[state] ?? state, number })),
			...refused.map(({ channel, number }) => ({ channel, outcome: "refused for now", number: Number(number) })),
		],
		answers,
	};
}

const OUTCOMES: Readonly<Record<string, string>> = {
	sent: "accepted",
	[FAILED]: "failed for good",
	withdrawn: "withdrawn",
	stale: "stale",
};
