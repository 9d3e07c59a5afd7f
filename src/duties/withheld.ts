import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { asksForWork } from "../messages/text-names.js";
import type { Wake } from "../messages/wake.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { notBeforeMs, reachablePeople } from "./reachable.js";

interface WithheldMessage {
	readonly id: string;
	readonly recipientId: string;
	readonly text: string;
	readonly urgent: boolean | number;
}

/** A unit of work takes so many: others on SQLite would wait too long for their turn to write. */
const A_PAGE = 1000;

const BECAUSE = "it waited when the backup was made, and may have gone since";

/**
 * What waited to be sent when a backup was made may have gone out before that backup came back: it stays where it is, and nobody is
 * written to, until somebody has said of it that it shall go, or that it shan't.
 */
export class Withheld {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly wake: Wake,
	) {}

	/** Withholds whatever was still to be sent; a code to sign in by ends, because it wouldn't be good any more. @returns how many messages */
	async withhold(): Promise<number> {
		await this.store.work.run((tx) =>
			tx.affected(
				`UPDATE message SET state = 'withdrawn', next_try_at_ms = NULL, ended_at_ms = $1, answer = $2
				 WHERE state IN ('waiting', 'claimed') AND text = 'signIn.code'`,
				[this.clock.nowMs(), "the code isn't good any more"],
			),
		);
		return this.paged(async (tx) => {
			const rows = await tx.query<{ id: string }>(
				`UPDATE message SET state = 'withheld', next_try_at_ms = NULL, held_until_ms = NULL
				 WHERE id IN (SELECT id FROM message WHERE next_try_at_ms IS NOT NULL OR held_until_ms IS NOT NULL ORDER BY id LIMIT ${A_PAGE}) RETURNING id`,
			);
			await this.told(
				tx,
				"messages withheld",
				BECAUSE,
				rows.map(({ id }) => id),
			);
			return rows.length;
		});
	}

	/** @returns what is withheld, the oldest first, a thousand at most */
	list(): Promise<{ id: string; createdAtMs: number; recipientCode: string; text: string }[]> {
		return this.store.query(
			`SELECT m.id, m.created_at_ms, p.code AS recipient_code, m.text FROM message m JOIN person p ON p.id = m.recipient_id
			 WHERE m.state = 'withheld' ORDER BY m.created_at_ms, m.id LIMIT ${A_PAGE}`,
		);
	}

	/** Lets one go. @throws InputError `unknown-subject`; `conflict` where it isn't withheld */
	release(messageId: string): Promise<void> {
		return this.store.work.run(async (tx) => {
			const [message] = await tx.query<{ state: string }>("SELECT state FROM message WHERE id = $1", [messageId]);
			if (!message) throw new InputError("unknown-subject", "There is no such message.", { status: 404 });
			if ((await this.released(tx, "id = $1 AND ", [messageId])) === 0)
				throw new InputError("conflict", `Only a withheld message is released; this one is ${message.state}.`, { status: 409 });
		});
	}

	/** Lets all of them go. @returns how many */
	releaseAll(): Promise<number> {
		return this.paged((tx) => this.released(tx, "", []));
	}

	/** Ends all of them unsent. @returns how many */
	dropAll(): Promise<number> {
		return this.paged(async (tx) => {
			const because = "withheld after a backup came back, and dropped";
			const rows = await tx.query<{ id: string }>(
				`UPDATE message SET state = 'withdrawn', ended_at_ms = $1, answer = $2
				 WHERE id IN (SELECT id FROM message WHERE state = 'withheld' ORDER BY id LIMIT ${A_PAGE}) RETURNING id`,
				[this.clock.nowMs(), because],
			);
			await this.told(
				tx,
				"withheld messages dropped",
				because,
				rows.map(({ id }) => id),
			);
			return rows.length;
		});
	}

	/** What asks for work goes in its person's time together with what is due then; the rest when she may be written to, with the key it had. */
	private async released(tx: Transaction, which: string, parameters: readonly unknown[]): Promise<number> {
		const nowMs = this.clock.nowMs();
		const messages = await tx.query<WithheldMessage>(
			`SELECT id, recipient_id, text, urgent FROM message WHERE ${which}state = 'withheld' ORDER BY id LIMIT ${A_PAGE}`,
			parameters,
		);
		const people = await reachablePeople(
			tx,
			messages.map(({ recipientId }) => recipientId),
			true,
		);
		const held = messages.filter(({ text, urgent }) => asksForWork(text) && !urgent);
		const waiting = messages.filter((message) => !held.includes(message));
		await tx.each(
			"UPDATE message SET state = 'held', held_until_ms = $2, ready_at_ms = NULL WHERE id = $1 AND state = 'withheld'",
			held.map(({ id }) => [id, nowMs]),
		);
		await tx.each(
			"UPDATE message SET state = 'waiting', ready_at_ms = $2, waits_since_ms = $2, next_try_at_ms = $2 WHERE id = $1 AND state = 'withheld'",
			waiting.map(({ id, recipientId, urgent }) => {
				const person = people.get(recipientId);
				return [id, person && !urgent ? notBeforeMs(person, nowMs) : nowMs];
			}),
		);
		const ids = messages.map(({ id }) => id);
		await this.told(tx, "withheld messages released", undefined, ids);
		this.wake(
			tx,
			waiting.map(({ id }) => id),
		);
		return ids.length;
	}

	private async told(tx: Transaction, action: string, because: string | undefined, ids: readonly string[]): Promise<void> {
		if (ids.length === 0) return;
		const detail = { messages: ids.length, ids, ...(because && { because }) };
		await record(tx, this.ids, [
			{ atMs: this.clock.nowMs(), actor: "office", action, subjectKind: "outbox", subjectId: "outbox", detail },
		]);
	}

	private async paged(page: (tx: Transaction) => Promise<number>): Promise<number> {
		let all = 0;
		for (;;) {
			const done = await this.store.work.run(page);
			all += done;
			if (done < A_PAGE) return all;
		}
	}
}
