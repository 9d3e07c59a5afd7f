import { record } from "../ledger/ledger.js";
import { currentPolicy } from "../programme/policy.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import { type Clock, DAY_MS } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { localDateOf } from "../time/local.js";
import type { Cleared, Erasure } from "./erasure.js";
import { renamed, WITH_NAMES } from "./names-in-json.js";

/** Instants before which everything has been cleared, by what it is. */
type Until = Readonly<Record<"texts" | "messages", number>>;

const PAGE = 500;

/** Clears what has been kept long enough, once a day: words, names and addresses go; what happened when, and every figure, stays. */
export class Clearing {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly erasure: Erasure,
	) {}

	/**
	 * @returns what this day's clearing cleared; none where it was done before
	 */
	async ofToday(): Promise<Cleared | undefined> {
		const nowMs = this.clock.nowMs();
		const day = localDateOf(nowMs, "UTC");
		const [done] = await this.store.query("SELECT id FROM clearing WHERE id = $1", [day]);
		return done ? undefined : this.clear(day, nowMs);
	}

	private async clear(day: string, nowMs: number): Promise<Cleared | undefined> {
		const { personal } = await currentPolicy(this.store);
		const [last] = await this.store.query<{ until: string }>("SELECT until FROM clearing ORDER BY id DESC LIMIT 1");
		const since = last ? (JSON.parse(last.until) as Until) : { texts: 0, messages: 0 };
		const until: Until = {
			texts: nowMs - personal.keepTextsDays * DAY_MS,
			messages: nowMs - personal.keepMessagesDays * DAY_MS,
		};
		const cleared = {
			texts: await this.paged("reply", "body = '', from_address = ''", "body <> '' AND received_at_ms < $1", until.texts),
			names: await this.clearNames(since.messages, until.messages),
			failures: await this.paged("message_failure", "reason = ''", "reason <> '' AND failed_at_ms < $1", until.messages),
			receipts: await this.paged(
				"message_receipt",
				"reason = NULL",
				"reason IS NOT NULL AND received_at_ms < $1",
				until.messages,
			),
			answers: await this.removed("idempotency_key", "keep_until_ms < $1", nowMs),
			sessions: await this.removed("session", "ends_at_ms < $1", nowMs),
			codes: await this.removed("sign_in_code", "ends_at_ms < $1", nowMs),
			people: await this.eraseLeft(nowMs - personal.keepLeftDays * DAY_MS),
		};
		return this.store.work.run(async (tx) => {
			const added = await tx.affected(
				"INSERT INTO clearing (id, at_ms, until, cleared) VALUES ($1, $2, $3, $4) ON CONFLICT (id) DO NOTHING",
				[day, nowMs, JSON.stringify(until), JSON.stringify(cleared)],
			);
			// Another process was quicker: between them everything was cleared once.
			if (added === 0) return undefined;
			const about = { subjectKind: "programme", subjectId: "programme", areaId: null };
			await record(tx, this.ids, [
				{ atMs: nowMs, actor: "clearing", action: "personal data cleared", ...about, detail: { ...cleared } },
			]);
			return cleared;
		});
	}

	/** Names in what went by then, and in tasks that were closed by then; of what was looked at before nothing is left. */
	private async clearNames(sinceMs: number, untilMs: number): Promise<number> {
		const ended = { message: "x.ended_at_ms", task: "x.closed_at_ms" } as const;
		let cleared = 0;
		for (const where of WITH_NAMES) {
			const which = `${ended[where.table]} >= $2 AND ${ended[where.table]} < $3`;
			cleared += await renamed(this.store, where, { text: which, parameters: [sinceMs, untilMs] }, () => "-");
		}
		return cleared;
	}

	private async eraseLeft(leftBeforeMs: number): Promise<number> {
		const before = localDateOf(leftBeforeMs, "UTC");
		const left = await this.store.query<{ code: string }>(
			`SELECT p.code FROM person p WHERE NOT p.active AND p.erased_at_ms IS NULL
			 AND EXISTS (SELECT 1 FROM absence a WHERE a.person_id = p.id AND a.reason = 'left' AND a.returned_at_ms IS NULL AND a.from_on < $1)
			 AND NOT EXISTS (SELECT 1 FROM household h WHERE h.volunteer_id = p.id)
			 AND NOT EXISTS (SELECT 1 FROM person o WHERE o.supervisor_id = p.id AND o.active)
			 AND NOT EXISTS (SELECT 1 FROM task t WHERE t.assignee_id = p.id AND t.state = 'open') ORDER BY p.code`,
			[before],
		);
		for (const { code } of left) await this.erasure.erase(code, "clearing");
		return left.length;
	}

	private paged(table: string, set: string, which: string, beforeMs: number): Promise<number> {
		return this.pages((tx) =>
			tx.affected(`UPDATE ${table} SET ${set} WHERE id IN (SELECT id FROM ${table} WHERE ${which} LIMIT ${PAGE})`, [beforeMs]),
		);
	}

	private removed(table: string, which: string, beforeMs: number): Promise<number> {
		return this.pages((tx) =>
			tx.affected(`DELETE FROM ${table} WHERE id IN (SELECT id FROM ${table} WHERE ${which} LIMIT ${PAGE})`, [beforeMs]),
		);
	}

	/** Each page is a unit of work of its own, so that nobody waits long for a turn to write. */
	private async pages(page: (tx: Transaction) => Promise<number>): Promise<number> {
		for (let all = 0; ; ) {
			const changed = await this.store.work.run(page);
			all += changed;
			if (changed < PAGE) return all;
		}
	}
}
