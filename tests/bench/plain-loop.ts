import { performance } from "node:perf_hooks";
import Sqlite from "better-sqlite3";
import { Client } from "pg";
import type { DatabaseKind } from "../support/stores.js";

const BATCH = 100;
const LEASE_MS = 60_000;

/** Takes a claim of a hundred and records its outcomes; none were ready: 0. */
interface Loop {
	claimedAndRecorded(): Promise<number>;
	close(): Promise<void>;
}

const READY = (now: string, most: string) =>
	`SELECT id FROM message WHERE next_try_at_ms <= ${now} ORDER BY next_try_at_ms LIMIT ${most}`;
const CLAIM = (until: string) => `state = 'claimed', claim = claim + 1, next_try_at_ms = ${until}`;
const NEEDED = "m.id, m.claim, m.text, m.fill, m.tries, p.name, p.phone_e164, p.language, p.channels, t.state AS task_state";
const WITH_WHOM = "JOIN person p ON p.id = m.recipient_id LEFT JOIN task t ON t.id = m.task_id";

interface Claimed {
	readonly id: string;
	readonly claim: number;
	readonly tries: number;
}

/**
 * The floor of a dispatcher: the same work on the outbox in the driver's own words, by statements that are prepared once. It claims a
 * hundred with a lease, reads with them what sending needs, and records for each its own outcome, only where the claim is still the
 * last one; claim and outcomes are each kept before it goes on. It makes no text, asks no channel and decides nothing.
 */
export const plainLoop = (kind: DatabaseKind, location: string) =>
	rateOf(kind === "sqlite" ? plainSqlite(location) : plainPostgres(location));

/** The least that can be thought of: claims ids, reads nothing, and writes one outcome for all of them without looking at the claim. */
export const leastLoop = (kind: DatabaseKind, location: string) =>
	rateOf(kind === "sqlite" ? leastSqlite(location) : leastPostgres(location));

async function rateOf(made: Promise<Loop>): Promise<number> {
	const loop = await made;
	const began = performance.now();
	let done = 0;
	for (let some = await loop.claimedAndRecorded(); some > 0; some = await loop.claimedAndRecorded()) done += some;
	const seconds = (performance.now() - began) / 1000;
	await loop.close();
	return done / seconds;
}

async function plainSqlite(location: string): Promise<Loop> {
	const file = new Sqlite(location);
	file.pragma("synchronous = FULL");
	const claim = file.prepare(`UPDATE message SET ${CLAIM("?")} WHERE id IN (${READY("?", "?")}) RETURNING id`);
	const read = file.prepare(`SELECT ${NEEDED} FROM message m ${WITH_WHOM} WHERE m.id IN (${Array(BATCH).fill("?")})`);
	const recordOne = file.prepare(
		`UPDATE message SET state = ?, channel = ?, answer = ?, tries = ?, next_try_at_ms = NULL, ended_at_ms = ?
		 WHERE id = ? AND claim = ? AND state = 'claimed'`,
	);
	const claimed = file.transaction((nowMs: number) => {
		const ids = (claim.all(nowMs + LEASE_MS, nowMs, BATCH) as Claimed[]).map(({ id }) => id);
		return ids.length === BATCH ? (read.all(ids) as Claimed[]) : [];
	});
	const recorded = file.transaction((messages: Claimed[], nowMs: number) => {
		for (const { id, claim: number, tries } of messages) recordOne.run("sent", "none", "taken", tries, nowMs, id, number);
	});
	return {
		async claimedAndRecorded() {
			const messages = claimed.immediate(Date.now());
			if (messages.length > 0) recorded.immediate(messages, Date.now());
			return messages.length;
		},
		async close() {
			file.close();
		},
	};
}

async function plainPostgres(location: string): Promise<Loop> {
	const client = new Client({ connectionString: location });
	await client.connect();
	const claim = `WITH ready AS (${READY("$2", "$3")} FOR UPDATE SKIP LOCKED),
		m AS (UPDATE message SET ${CLAIM("$1")} FROM ready WHERE message.id = ready.id RETURNING message.*)
		SELECT ${NEEDED} FROM m ${WITH_WHOM}`;
	const record = `UPDATE message SET state = v.state, channel = v.channel, answer = v.answer, tries = v.tries, next_try_at_ms = NULL, ended_at_ms = v.at
		FROM unnest($1::text[], $2::integer[], $3::text[], $4::text[], $5::text[], $6::integer[], $7::bigint[]) AS v (id, claim, state, channel, answer, tries, at)
		WHERE message.id = v.id AND message.claim = v.claim AND message.state = 'claimed'`;
	return {
		async claimedAndRecorded() {
			const nowMs = Date.now();
			const { rows } = await client.query<Claimed>({ name: "claim", text: claim, values: [nowMs + LEASE_MS, nowMs, BATCH] });
			const each = <T>(of: (message: Claimed) => T) => rows.map(of);
			const values = [
				each(({ id }) => id),
				each((m) => m.claim),
				each(() => "sent"),
				each(() => "none"),
				each(() => "taken"),
				each(({ tries }) => tries),
				each(() => nowMs),
			];
			if (rows.length > 0) await client.query({ name: "record", text: record, values });
			return rows.length;
		},
		close: () => client.end(),
	};
}

const DONE = (at: string) => `UPDATE message SET state = 'sent', next_try_at_ms = NULL, ended_at_ms = ${at} WHERE id`;

async function leastSqlite(location: string): Promise<Loop> {
	const file = new Sqlite(location);
	file.pragma("synchronous = FULL");
	const claim = file.prepare(`UPDATE message SET ${CLAIM("?")} WHERE id IN (${READY("?", "?")}) RETURNING id`);
	const done = file.prepare(`${DONE("?")} IN (${Array(BATCH).fill("?")})`);
	return {
		async claimedAndRecorded() {
			const nowMs = Date.now();
			const ids = (claim.all(nowMs + LEASE_MS, nowMs, BATCH) as Claimed[]).map(({ id }) => id);
			if (ids.length === BATCH) done.run(nowMs, ...ids);
			return ids.length;
		},
		async close() {
			file.close();
		},
	};
}

async function leastPostgres(location: string): Promise<Loop> {
	const client = new Client({ connectionString: location });
	await client.connect();
	const claim = `UPDATE message SET ${CLAIM("$1")} WHERE id IN (${READY("$2", "$3")} FOR UPDATE SKIP LOCKED) RETURNING id`;
	return {
		async claimedAndRecorded() {
			const nowMs = Date.now();
			const { rows } = await client.query<Claimed>({ name: "claim", text: claim, values: [nowMs + LEASE_MS, nowMs, BATCH] });
			const ids = rows.map(({ id }) => id);
			if (ids.length > 0) await client.query({ name: "done", text: `${DONE("$2")} = ANY($1)`, values: [ids, nowMs] });
			return ids.length;
		},
		close: () => client.end(),
	};
}
