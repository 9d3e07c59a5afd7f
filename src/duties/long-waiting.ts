import { record } from "../ledger/ledger.js";
import { isDigest } from "../messages/digest.js";
import { type NewMessage, putIntoOutbox } from "../messages/outbox.js";
import { asksForWork } from "../messages/text-names.js";
import { currentPolicy, type Policy } from "../programme/policy.js";
import { among, placeholders } from "../store/sql.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import { type Clock, HOUR_MS } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { notBeforeMs, type Reachable, reachablePeople } from "./reachable.js";

const PEOPLE_A_PAGE = 100;

/** What could have gone for so long and hasn't: its channel is in trouble, or slower than what comes. Own choice. */
const LONG_MS = HOUR_MS;

interface Waiting {
	readonly id: string;
	readonly recipientId: string;
	readonly text: string;
	readonly readyAtMs: number;
	readonly waitsSinceMs: number;
}

/** A message that tells of a task which is still open, and what it waits in: itself, or the digest that tells of it. */
interface Telling {
	readonly id: string;
	readonly waitsIn: string;
	readonly taskId: string;
	readonly recipientId: string;
	readonly text: string;
	readonly fill: string;
	readonly channels: string | null;
	readonly openedAtMs: number;
}

/**
 * Takes reminders back that have piled up in the outbox while a gateway was away, so that nobody gets them all at once afterwards:
 * what waits for one person is held again and goes as one text in her time. What has waited until it isn't true any more is dropped
 * with a record, and told anew as it is now where its task is still open. Urgent messages, answers and doses are left as they are.
 */
export class LongWaiting {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
	) {}

	/** @returns how many messages were taken back or dropped */
	async takeBack(): Promise<number> {
		const lateMs = this.clock.nowMs() - LONG_MS;
		let taken = 0;
		for (let after = ""; ; ) {
			const people = await this.store.query<{ id: string }>(
				`SELECT DISTINCT recipient_id AS id FROM message
				 WHERE state = 'waiting' AND NOT urgent AND ready_at_ms <= $1 AND recipient_id > $2 ORDER BY recipient_id LIMIT ${PEOPLE_A_PAGE}`,
				[lateMs, after],
			);
			const last = people.at(-1);
			if (!last) return taken;
			after = last.id;
			taken += await this.store.work.run((tx) =>
				this.page(
					tx,
					people.map(({ id }) => id),
				),
			);
		}
	}

	private async page(tx: Transaction, personIds: readonly string[]): Promise<number> {
		const nowMs = this.clock.nowMs();
		// As for digests: another scheduler that does the same waits, and finds nothing left.
		if (tx.kind === "postgres")
			await tx.query(
				`SELECT id FROM person WHERE id IN (${placeholders(personIds.length)}) ORDER BY id FOR NO KEY UPDATE`,
				personIds,
			);
		const policy = await currentPolicy(tx);
		const people = await reachablePeople(tx, personIds);
		const waiting = await tx.query<Waiting>(
			`SELECT id, recipient_id, text, ready_at_ms, COALESCE(waits_since_ms, ready_at_ms) AS waits_since_ms FROM message
			 WHERE recipient_id ${among(tx.kind, "$1")} AND state = 'waiting' AND NOT urgent AND ready_at_ms IS NOT NULL AND next_try_at_ms IS NOT NULL`,
			[personIds],
		);
		const reminders = waiting.filter(({ text }) => asksForWork(text) || isDigest(text));
		const stale: string[] = [];
		const again: string[] = [];
		for (const person of people.values()) {
			const hers = reminders.filter(({ recipientId }) => recipientId === person.id);
			const old = hers.filter((message) => nowMs - message.waitsSinceMs >= staleAfterMs(message.text, policy));
			const others = hers.filter((message) => !old.includes(message));
			stale.push(...old.map(({ id }) => id));
			again.push(...heldAgain(others, person, nowMs).map(({ id }) => id));
		}
		return (await this.drop(tx, stale, nowMs)) + (await this.hold(tx, again, nowMs));
	}

	private async drop(tx: Transaction, ids: readonly string[], nowMs: number): Promise<number> {
		const dropped = await ended(tx, ids, "stale", "it waited until it was stale", nowMs);
		const told = await tellings(tx, dropped);
		await putIntoOutbox(
			tx,
			told.map((telling) => this.anew(telling, nowMs)),
			"held",
		);
		await record(
			tx,
			this.ids,
			dropped.map((id) => ({
				atMs: nowMs,
				actor: "digest",
				action: "stale message dropped",
				subjectKind: "message",
				subjectId: id,
				detail: { toldAnew: told.filter(({ waitsIn }) => waitsIn === id).length },
			})),
		);
		return dropped.length;
	}

	private anew({ id, taskId, recipientId, text, fill, channels, openedAtMs }: Telling, nowMs: number): NewMessage {
		const filled = JSON.parse(fill) as Record<string, string | number>;
		if ("hours" in filled) filled["hours"] = Math.round((nowMs - openedAtMs) / HOUR_MS);
		return {
			id: this.ids.next(),
			idempotencyKey: `anew.${id}`,
			taskId,
			recipientId,
			text,
			fill: filled,
			urgent: false,
			createdAtMs: nowMs,
			notBeforeMs: nowMs,
			channels: channels === null ? null : (JSON.parse(channels) as string[]),
		};
	}

	/** A digest is undone: what it told of goes with what has come since. */
	private async hold(tx: Transaction, ids: readonly string[], nowMs: number): Promise<number> {
		if (ids.length === 0) return 0;
		const held = await tx.query<{ id: string }>(
			`UPDATE message SET state = 'held', held_until_ms = $1, ready_at_ms = NULL, next_try_at_ms = NULL
			 WHERE id ${among(tx.kind, "$2")} AND state = 'waiting' AND text NOT LIKE 'digest.%' RETURNING id`,
			[nowMs, ids],
		);
		const undone = await ended(tx, ids, "withdrawn", "told together with what came since", nowMs);
		const members = (await tellings(tx, undone)).map(({ id }) => id);
		if (members.length > 0)
			await tx.affected(
				`UPDATE message SET state = 'held', held_until_ms = $1, digest_id = NULL, claim = message.claim + d.claim, tries = d.tries, channel = d.channel, waits_since_ms = d.waits_since_ms FROM message d
				 WHERE d.id = message.digest_id AND message.id ${among(tx.kind, "$2")} AND message.state = 'merged'`,
				[nowMs, members],
			);
		const personal = [...held.map(({ id }) => id), ...undone];
		if (personal.length > 0)
			await record(tx, this.ids, [
				{
					atMs: nowMs,
					actor: "digest",
					action: "messages taken back",
					subjectKind: "outbox",
					subjectId: "outbox",
					detail: { messages: personal.length, because: "they could have gone for an hour and hadn't", ids: personal },
				},
			]);
		return personal.length;
	}
}

/** @returns how long a text may wait and still be true, milliseconds */
function staleAfterMs(text: string, { messages: { staleAfterHours, staleAfterHoursOf } }: Policy): number {
	const own = Object.hasOwn(staleAfterHoursOf, text) ? staleAfterHoursOf[text] : undefined;
	return (own ?? staleAfterHours) * HOUR_MS;
}

/** What is held again: several for one person, or what would now come in her quiet hours. */
function heldAgain(waiting: readonly Waiting[], person: Reachable, nowMs: number): readonly Waiting[] {
	if (!waiting.some(({ readyAtMs }) => nowMs - readyAtMs >= LONG_MS)) return [];
	return waiting.length > 1 || notBeforeMs(person, nowMs) > nowMs ? waiting : [];
}

/** Ends those that still wait; of "withdrawn" only digests. @returns their ids */
async function ended(tx: Transaction, ids: readonly string[], state: "stale" | "withdrawn", why: string, nowMs: number) {
	if (ids.length === 0) return [];
	const rows = await tx.query<{ id: string }>(
		`UPDATE message SET state = '${state}', ended_at_ms = $1, answer = $2, next_try_at_ms = NULL
		 WHERE id ${among(tx.kind, "$3")} AND state = 'waiting'${state === "withdrawn" ? " AND text LIKE 'digest.%'" : ""} RETURNING id`,
		[nowMs, why, ids],
	);
	return rows.map(({ id }) => id);
}

/** @returns what messages tell of that is still to be done: they themselves, or the members of a digest */
async function tellings(tx: Transaction, ids: readonly string[]): Promise<Telling[]> {
	if (ids.length === 0) return [];
	return tx.query<Telling>(
		`SELECT m.id, COALESCE(m.digest_id, m.id) AS waits_in, m.task_id, m.recipient_id, m.text, m.fill, m.channels, t.opened_at_ms
		 FROM message m JOIN task t ON t.id = m.task_id
		 WHERE (m.id ${among(tx.kind, "$1")} OR (m.digest_id ${among(tx.kind, "$1")} AND m.state = 'merged')) AND t.state = 'open'
		 ORDER BY m.created_at_ms, m.id`,
		[ids],
	);
}
