import { lacksConsent } from "../programme/consent.js";
import { among, placeholders } from "../store/sql.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import { isDigest, type Member } from "./digest.js";
import type { Fill } from "./texts.js";

/** A message that this process alone may send until its lease runs out, with what sending it needs. */
export interface Claimed {
	readonly id: string;
	/** The number of this claim: a later one makes it worthless. */
	readonly claim: number;
	readonly idempotencyKey: string;
	readonly taskId: string | null;
	/** None: the message belongs to no task. */
	readonly taskState: string | null;
	readonly textName: string;
	/** JSON. */
	readonly fill: string;
	readonly urgent: boolean | number;
	/** Tries that failed on this channel. */
	readonly tries: number;
	/** The channel that was begun with; none: not tried yet. */
	readonly channel: string | null;
	readonly personId: string;
	readonly name: string;
	readonly phoneE164: string | null;
	readonly email: string | null;
	readonly language: string;
	/** JSON list of channel names. */
	readonly channels: string;
	/** Those for one person go in the order of this; none: it doesn't matter. */
	readonly readyAtMs: number | null;
	/** Why the person mustn't be written to; none: she may. */
	readonly unwanted: string | null;
	/** Of a digest: what it tells of and is still to be done. */
	readonly members?: readonly Member[];
}

/** What was ready for the same person before this one and hasn't ended; an urgent one overtakes the others. */
const earlier = (than: string, urgent: string) =>
	`SELECT 1 FROM message e WHERE e.recipient_id = ${than}.recipient_id AND ${urgent} e.urgent AND (e.ready_at_ms, e.id) < (${than}.ready_at_ms, ${than}.id)`;
/** One that rests after a failed try, or is on its way with somebody else, holds up what came after it for the same person. */
const ready = (
	urgent: string,
) => `SELECT m.id, m.recipient_id, m.ready_at_ms FROM message m WHERE ${urgent} m.urgent AND m.next_try_at_ms <= $1
	AND NOT EXISTS (${earlier("m", urgent)} AND e.next_try_at_ms > m.next_try_at_ms) ORDER BY m.next_try_at_ms, m.id LIMIT $2`;
/** Of a backlog of bulk the urgent ones are found by an index of their own. */
const LANES = { urgent: "", bulk: "NOT" } as const;
/** Urgent messages don't wait behind others: they are claimed apart. */
export type Lane = keyof typeof LANES;

const CLAIM = "state = 'claimed', claim = claim + 1, next_try_at_ms = $3";
const whatSendingNeeds = (kind: Transaction["kind"]) => `
	m.id, m.claim, m.ready_at_ms, m.idempotency_key, m.task_id, m.text AS text_name, m.fill, m.urgent, m.tries, m.channel, t.state AS task_state,
	p.id AS person_id, p.name, p.phone_e164, p.email, p.language, COALESCE(m.channels, p.channels) AS channels,
	CASE WHEN NOT p.active AND m.text NOT IN ('work.given', 'work.givenAll') THEN 'the person isn''t active any more' WHEN p.opted_out_at_ms IS NOT NULL THEN 'the person wants no messages'
	 WHEN ${lacksConsent("p", kind)} THEN 'the person hasn''t consented to messages' END AS unwanted`;
const WITH_WHOM = "JOIN person p ON p.id = m.recipient_id LEFT JOIN task t ON t.id = m.task_id";

/**
 * A claim whose holder died is ready again when its lease runs out: nobody needs to look for it.
 * One that another is claiming at this moment still looks ready here: what comes after it for the same person is left too.
 */
const claimOnPostgres = (lane: Lane) => `
	WITH ready AS (${ready(LANES[lane])} FOR UPDATE SKIP LOCKED),
	free AS (SELECT r.id FROM ready r WHERE NOT EXISTS (${earlier("r", LANES[lane])} AND e.next_try_at_ms IS NOT NULL
		AND NOT EXISTS (SELECT 1 FROM ready o WHERE o.id = e.id))),
	claimed AS (UPDATE message AS m SET ${CLAIM} FROM free WHERE m.id = free.id RETURNING m.*)
	SELECT ${whatSendingNeeds("postgres")} FROM claimed m ${WITH_WHOM}`;

const claimOnSqlite = (lane: Lane) =>
	`UPDATE message SET ${CLAIM} WHERE id IN (SELECT id FROM (${ready(LANES[lane])})) RETURNING id`;
const claimedOnSqlite = `SELECT ${whatSendingNeeds("sqlite")} FROM message m ${WITH_WHOM} WHERE m.id ${among("sqlite", "$1")}`;

/**
 * Claims what is ready, oldest first, in one conditional update.
 * @param nowMs epoch milliseconds
 * @param untilMs when the lease runs out, epoch milliseconds
 * @param most messages at most, 1 to 500
 * @param lane the urgent ones, or the others
 */
export async function claimReady(tx: Transaction, nowMs: number, untilMs: number, most: number, lane: Lane): Promise<Claimed[]> {
	if (tx.kind === "postgres") return withMembers(tx, await tx.query<Claimed>(claimOnPostgres(lane), [nowMs, most, untilMs]));
	const ids = (await tx.query<{ id: string }>(claimOnSqlite(lane), [nowMs, most, untilMs])).map(({ id }) => id);
	return ids.length === 0 ? [] : withMembers(tx, await tx.query<Claimed>(claimedOnSqlite, [ids]));
}

/** The same on PostgreSQL in a unit of work that is this statement alone. */
export async function claimAlone(store: Store, nowMs: number, untilMs: number, most: number, lane: Lane): Promise<Claimed[]> {
	return withMembers(store, await store.work.single<Claimed>(claimOnPostgres(lane), [nowMs, most, untilMs]));
}

/** What was closed since a digest was made isn't told any more. */
async function withMembers(from: Pick<Transaction, "query">, claimed: Claimed[]): Promise<Claimed[]> {
	const digests = claimed.filter(({ textName }) => isDigest(textName));
	if (digests.length === 0) return claimed;
	const rows = await from.query<{ digestId: string; taskId: string; text: string; fill: string }>(
		`SELECT m.digest_id, m.task_id, m.text, m.fill FROM message m JOIN task t ON t.id = m.task_id
		 WHERE m.digest_id IN (${placeholders(digests.length)}) AND m.state = 'merged' AND t.state = 'open' ORDER BY m.created_at_ms, m.id`,
		digests.map(({ id }) => id),
	);
	const byDigest = new Map<string, Member[]>(digests.map(({ id }) => [id, []]));
	for (const { digestId, taskId, text, fill } of rows)
		byDigest.get(digestId)?.push({ taskId, text, fill: JSON.parse(fill) as Fill });
	return claimed.map((message) => {
		const members = byDigest.get(message.id);
		return members ? { ...message, members } : message;
	});
}
