import { recordsOf } from "../store/postgres-statements.js";
import type { Transaction, UnitOfWork } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";
import { keepChannelIds } from "./channel-ids.js";
import type { Outcome } from "./outcome.js";

interface RecordsOn {
	readonly ids: Ids;
	/** Names of the channels there are. */
	readonly configured: Iterable<string>;
}

/** The number of the claim is the fence: who comes late, after somebody else's claim, changes nothing. */
const recordOnSqlite = `
	UPDATE message SET state = $3, channel = $4, answer = $5, tries = $6, next_try_at_ms = $7, ended_at_ms = $8,
	       segments = $9, encoding = $10
	WHERE id = $1 AND claim = $2 AND state = 'claimed'`;

/** All of them by one statement whose text is always the same. */
const recordOnPostgres = `
	UPDATE message SET state = v.state, channel = v.channel, answer = v.answer, tries = v.tries,
	       next_try_at_ms = v.next_try_at_ms, ended_at_ms = v.ended_at_ms,
	       segments = v.segments, encoding = v.encoding
	FROM json_to_recordset($1) AS v (id text, claim integer, state text, channel text, answer text, tries integer,
		next_try_at_ms bigint, ended_at_ms bigint, segments integer, encoding text)
	WHERE message.id = v.id AND message.claim = v.claim AND message.state = 'claimed'
	RETURNING message.id`;

const COLUMNS = ["id", "claim", "state", "channel", "answer", "tries", "next_try_at_ms", "ended_at_ms", "segments", "encoding"];

const rowOf = (o: Outcome) => [
	...[o.messageId, o.claim, o.state, o.channel, o.answer, o.tries, o.nextTryAtMs, o.endedAtMs],
	...[o.sent?.segments ?? null, o.sent?.encoding ?? null],
];

/**
 * Records outcomes, the failures among them, and what channels call their messages, in the caller's unit of work.
 * @returns ids of the messages whose claim was still the last one
 */
export async function recordOutcomes(tx: Transaction, on: RecordsOn, outcomes: readonly Outcome[]): Promise<ReadonlySet<string>> {
	if (outcomes.length === 0) return new Set();
	const kept =
		tx.kind === "postgres"
			? idsOf(await tx.query(recordOnPostgres, [recordsOf(COLUMNS, outcomes.map(rowOf))]))
			: new Set((await tx.each(recordOnSqlite, outcomes.map(rowOf))).map((at) => outcomes[at]!.messageId));
	const failures = outcomes.flatMap(({ messageId, failure: f }) =>
		f && kept.has(messageId) ? [[on.ids.next(), messageId, f.failedAtMs, f.channel, f.forGood, f.reason]] : [],
	);
	await tx.insert("message_failure", ["id", "message_id", "failed_at_ms", "channel", "for_good", "reason"], failures);
	const named = outcomes.filter(({ messageId, channelMessageIds }) => channelMessageIds && kept.has(messageId));
	await keepChannelIds(tx, named, on.ids, on.configured);
	return kept;
}

/** Whether nothing but the message itself is to be written. */
export function isPlain({ failure, channelMessageIds }: Outcome): boolean {
	return failure === undefined && channelMessageIds === undefined;
}

/** The same on PostgreSQL for outcomes that are plain: one statement that is kept or not by itself, a third of the ways to the server. */
export async function recordAlone(work: UnitOfWork, outcomes: readonly Outcome[]): Promise<ReadonlySet<string>> {
	return idsOf(await work.single(recordOnPostgres, [recordsOf(COLUMNS, outcomes.map(rowOf))]));
}

function idsOf(rows: readonly { id: string }[]): ReadonlySet<string> {
	return new Set(rows.map(({ id }) => id));
}
