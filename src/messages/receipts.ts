import { valuesOf } from "../store/sql.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import type { ReceiptState } from "./rows.js";
import { settledByReceipts } from "./settled-by-receipts.js";
import type { Wake } from "./wake.js";

/** What a channel tells of something that it took before. */
export interface Receipt {
	readonly channel: string;
	/** The channel's own id of the message, or of one of its segments. */
	readonly channelMessageId: string;
	readonly state: ReceiptState;
	/** The channel's own words. */
	readonly reason: string | null;
	/** When it happened, epoch milliseconds. */
	readonly atMs: number;
}

/** How many receipts there were, and how many of them for something that isn't known here. */
export interface TakenReceipts {
	readonly taken: number;
	readonly unknown: number;
}

/** "delivered" is the last word whenever it comes; of two others the later one holds. The same receipt again changes nothing. */
const RANK = (row: string) => `CASE ${row}.state WHEN 'delivered' THEN 2 WHEN 'accepted' THEN 0 ELSE 1 END`;
const OVERRULES = `${RANK("excluded")} > ${RANK("message_receipt")} OR (${RANK("excluded")} = ${RANK("message_receipt")}
	AND (excluded.at_ms > message_receipt.at_ms OR (excluded.at_ms = message_receipt.at_ms AND excluded.state > message_receipt.state)))`;

const MOST_AT_ONCE = 500;

interface Post {
	readonly receipts: readonly Receipt[];
	readonly taken: (taken: TakenReceipts) => void;
	readonly failed: (error: unknown) => void;
}

interface Kept {
	readonly channel: string;
	readonly channelMessageId: string;
	readonly messageId: string | null;
	readonly isChanged: boolean;
}

const keyOf = ({ channel, channelMessageId }: Pick<Receipt, "channel" | "channelMessageId">) => `${channel} ${channelMessageId}`;

/** Takes what channels tell afterwards, in whatever order and however often they tell it. */
export class Receipts {
	private readonly waiting: Post[] = [];
	private isWriting = false;

	/** @param configured names of the channels there are */
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly wake: Wake,
		private readonly configured: () => Iterable<string>,
	) {}

	/**
	 * Keeps receipts, all or none; those of unknown messages too, for a receipt may be quicker than the answer to the send.
	 * What comes while others are being written goes into the next unit of work together: centres hand receipts in one by one.
	 * Not to be called inside a unit of work, which it would wait for.
	 */
	take(receipts: readonly Receipt[]): Promise<TakenReceipts> {
		return new Promise((taken, failed) => {
			this.waiting.push({ receipts, taken, failed });
			if (this.isWriting) return;
			this.isWriting = true;
			// After what is already on its way in this turn of the event loop.
			setImmediate(() => void this.writeAll());
		});
	}

	private async writeAll(): Promise<void> {
		while (this.waiting.length > 0) {
			const posts = this.waiting.splice(0, MOST_AT_ONCE);
			try {
				await this.write(posts);
			} catch (error) {
				if (posts.length === 1) posts[0]?.failed(error);
				// One that can't be kept mustn't take the others with it.
				else for (const post of posts) await this.write([post]).catch(post.failed);
			}
		}
		this.isWriting = false;
	}

	private async write(posts: readonly Post[]): Promise<void> {
		const unknown = await this.store.work.run(async (tx) => {
			const kept: Kept[] = [];
			const distinct = lastWords(posts.flatMap(({ receipts }) => receipts));
			for (let from = 0; from < distinct.length; from += MOST_AT_ONCE)
				kept.push(...(await this.keep(tx, distinct.slice(from, from + MOST_AT_ONCE))));
			const changed = kept.flatMap(({ messageId, isChanged }) => (isChanged && messageId !== null ? [messageId] : []));
			const again = await settledByReceipts(tx, [...new Set(changed)], {
				ids: this.ids,
				configured: this.configured(),
				nowMs: this.clock.nowMs(),
			});
			this.wake(tx, again);
			return new Set(kept.filter(({ messageId }) => messageId === null).map(keyOf));
		});
		for (const { receipts, taken } of posts)
			taken({ taken: receipts.length, unknown: new Set(receipts.map(keyOf).filter((key) => unknown.has(key))).size });
	}

	private async keep(tx: Transaction, receipts: readonly Receipt[]): Promise<Kept[]> {
		const nowMs = this.clock.nowMs();
		const { text, parameters } = valuesOf(
			receipts.map((r) => [this.ids.next(), r.channel, r.channelMessageId, r.state, r.reason, r.atMs, nowMs]),
		);
		const changed = await tx.query<{ id: string }>(
			`INSERT INTO message_receipt (id, channel, channel_message_id, state, reason, at_ms, received_at_ms) VALUES ${text}
			 ON CONFLICT (channel, channel_message_id) DO UPDATE SET state = excluded.state, reason = excluded.reason,
			 at_ms = excluded.at_ms, received_at_ms = excluded.received_at_ms WHERE ${OVERRULES} RETURNING id`,
			parameters,
		);
		const isChanged = new Set(changed.map(({ id }) => id));
		const { text: named, parameters: names } = valuesOf(receipts.map((r) => [r.channel, r.channelMessageId]));
		const rows = await tx.query<Omit<Kept, "isChanged"> & { id: string }>(
			`SELECT id, channel, channel_message_id, message_id FROM message_receipt WHERE (channel, channel_message_id) IN (VALUES ${named})`,
			names,
		);
		return rows.map(({ id, ...row }) => ({ ...row, isChanged: isChanged.has(id) }));
	}
}

/** One statement can't change a row twice: of several receipts of one id in one post, the last word is taken. */
function lastWords(receipts: readonly Receipt[]): Receipt[] {
	const last = new Map<string, Receipt>();
	for (const receipt of receipts) {
		const key = keyOf(receipt);
		const before = last.get(key);
		if (!before || overrules(receipt, before)) last.set(key, receipt);
	}
	return [...last.values()];
}

const rank = (state: ReceiptState) => (state === "delivered" ? 2 : state === "accepted" ? 0 : 1);

function overrules(one: Receipt, before: Receipt): boolean {
	if (rank(one.state) !== rank(before.state)) return rank(one.state) > rank(before.state);
	return one.atMs !== before.atMs ? one.atMs > before.atMs : one.state > before.state;
}
