import { InputError, TransientError } from "../../errors/errors.js";
import type { Store } from "../../store/store.js";
import type { Transaction } from "../../store/unit-of-work.js";
import type { Clock } from "../../time/clock.js";
import { EdgeRefusal } from "../edge/problem.js";
import type { IdempotencyKeyRow } from "./rows.js";

/** What was answered. */
export interface KeptAnswer {
	readonly status: number;
	readonly body: unknown;
}

/** A key that is ours to work under until its lease runs out. */
export interface Claim {
	readonly id: string;
	readonly leaseUntilMs: number;
}

/** Longer than any request takes: whoever died at work lets the next one in after it. */
const LEASE_MS = 60_000;
/** Rows beyond their time that one request clears away. */
const CLEARED_AT_ONCE = 100;

/** Keeps what was answered under a key, for as long as the settings say. */
export class KeptAnswers {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly keepMs: number,
	) {}

	/**
	 * @param fingerprint of what is asked; none where its body is still coming in
	 * @returns a claim on the key; or the row of the answer that was given, whose fingerprint is still to be compared
	 * @throws EdgeRefusal 409 where the same request is at work now
	 */
	claim(id: string, fingerprint: string | null): Promise<{ readonly claim: Claim } | { readonly given: IdempotencyKeyRow }> {
		return this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			const claim = { id, leaseUntilMs: nowMs + LEASE_MS };
			await tx.affected(
				`DELETE FROM idempotency_key WHERE id IN (SELECT id FROM idempotency_key WHERE keep_until_ms < $1 ORDER BY keep_until_ms LIMIT ${CLEARED_AT_ONCE})`,
				[nowMs],
			);
			const parameters = [id, fingerprint, claim.leaseUntilMs, nowMs + this.keepMs];
			const isNew = await tx.affected(
				"INSERT INTO idempotency_key (id, fingerprint, lease_until_ms, keep_until_ms) VALUES ($1, $2, $3, $4) ON CONFLICT (id) DO NOTHING",
				parameters,
			);
			if (isNew > 0) return { claim };
			// Kept for longer than its time, or left at work by a process that has died since: as if it had never been.
			const isOver = await tx.affected(
				`UPDATE idempotency_key SET fingerprint = $2, lease_until_ms = $3, keep_until_ms = $4, status = NULL, answer = NULL
				 WHERE id = $1 AND (keep_until_ms < $5 OR lease_until_ms < $5)`,
				[...parameters, nowMs],
			);
			if (isOver > 0) return { claim };
			const [row] = await tx.query<IdempotencyKeyRow>("SELECT * FROM idempotency_key WHERE id = $1", [id]);
			if (row && row.leaseUntilMs === null) return { given: row };
			throw new EdgeRefusal(
				409,
				"request-going-on",
				"A request with this Idempotency-Key is at work; ask again when it has ended.",
				{
					"retry-after": "1",
				},
			);
		});
	}

	/** Keeps the answer in the unit of work that did what it tells of. @throws TransientError where the lease had run out meanwhile */
	async keep(tx: Transaction, claim: Claim, fingerprint: string, { status, body }: KeptAnswer): Promise<void> {
		const kept = await tx.affected(
			"UPDATE idempotency_key SET fingerprint = $3, lease_until_ms = NULL, status = $4, answer = $5 WHERE id = $1 AND lease_until_ms = $2",
			[claim.id, claim.leaseUntilMs, fingerprint, status, JSON.stringify(body ?? null)],
		);
		if (kept === 0) throw new TransientError("database-busy", "The request took too long and was given up; nothing was changed.");
	}

	/** What was refused or has failed has changed nothing: the same key may try again at once. */
	async release(claim: Claim): Promise<void> {
		await this.store.work.run((tx) =>
			tx.affected("DELETE FROM idempotency_key WHERE id = $1 AND lease_until_ms = $2", [claim.id, claim.leaseUntilMs]),
		);
	}
}

/** @throws InputError `key-reused` (422) where something else was asked under the key */
export function answerTo(row: IdempotencyKeyRow, fingerprint: string): KeptAnswer {
	if (row.fingerprint !== fingerprint)
		throw new InputError("key-reused", "This Idempotency-Key was used for another request; a new one for each is right.", {
			problems: [{ at: "Idempotency-Key", message: "must be a new one for another request" }],
		});
	return { status: row.status as number, body: JSON.parse(row.answer as string) as unknown };
}
