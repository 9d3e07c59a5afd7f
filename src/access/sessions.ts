import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import { type Clock, DAY_MS, HOUR_MS, MINUTE_MS } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { hashOf, newSecret } from "./secrets.js";

/** Whose session it is. */
export type Holder = { readonly accountId: string } | { readonly personId: string };

/** A session that is going on. */
export interface Session {
	readonly id: string;
	readonly accountId: string | null;
	readonly personId: string | null;
	readonly beganAtMs: number;
	readonly provedAtMs: number;
	readonly usedAtMs: number;
	readonly endsAtMs: number;
	readonly device: string | null;
}

/**
 * How long: staff see many people's records, mostly at desks that others use too; a volunteer sees her own, on her phone, far from
 * a desk where she could be helped to sign in.
 * Source: OWASP ASVS 5.0.0 (2025), 7.1.1 and 7.3.1 to 7.3.2, which leave the lengths to the risk; these are common practice, no source
 */
export const SESSION_LENGTHS = {
	account: { idleMs: 30 * MINUTE_MS, mostMs: 12 * HOUR_MS },
	volunteer: { idleMs: 30 * DAY_MS, mostMs: 90 * DAY_MS },
} as const;

/** Use is written down this often: not every request writes. */
const NOTED_EVERY_MS = MINUTE_MS;
const LONGEST_DEVICE = 200;
const COLUMNS = "id, account_id, person_id, began_at_ms, proved_at_ms, used_at_ms, ends_at_ms, device";

/** Who is signed in where. What the cookie holds is kept as its hash alone. */
export class Sessions {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
	) {}

	/** Begins a session, always with a new secret. @returns what the cookie holds, and when it ends at the latest */
	async begin(
		tx: Transaction,
		holder: Holder,
		device: string | undefined,
	): Promise<{ id: string; secret: string; endsAtMs: number }> {
		const [accountId, personId] = "accountId" in holder ? [holder.accountId, null] : [null, holder.personId];
		const nowMs = this.clock.nowMs();
		const endsAtMs = nowMs + lengthsOf({ accountId }).mostMs;
		const id = this.ids.next();
		const secret = newSecret();
		await tx.affected("DELETE FROM session WHERE ends_at_ms < $1", [nowMs]);
		await tx.affected(`INSERT INTO session (${COLUMNS}, token_hash) VALUES ($1, $2, $3, $4, $4, $4, $5, $6, $7)`, [
			id,
			accountId,
			personId,
			nowMs,
			endsAtMs,
			device?.slice(0, LONGEST_DEVICE) ?? null,
			hashOf(secret),
		]);
		return { id, secret, endsAtMs };
	}

	/** @returns the session of a cookie; none where it never was, was ended, or has run out */
	async of(secret: string): Promise<Session | undefined> {
		const [found] = await this.store.query<Session>(`SELECT ${COLUMNS} FROM session WHERE token_hash = $1`, [hashOf(secret)]);
		const nowMs = this.clock.nowMs();
		if (!found || !isGoingOn(found, nowMs)) return undefined;
		if (nowMs - found.usedAtMs >= NOTED_EVERY_MS)
			await this.store.work.run((tx) => tx.affected("UPDATE session SET used_at_ms = $2 WHERE id = $1", [found.id, nowMs]));
		return found;
	}

	/** @returns everything that is going on in somebody's name, the one that was used last first */
	async listOf(holder: Holder): Promise<Session[]> {
		const [column, id] = columnOf(holder);
		const all = await this.store.query<Session>(
			`SELECT ${COLUMNS} FROM session WHERE ${column} = $1 ORDER BY used_at_ms DESC, id`,
			[id],
		);
		return all.filter((session) => isGoingOn(session, this.clock.nowMs()));
	}

	/** Ends one of somebody's sessions. @returns whether it was hers and went on */
	async end(tx: Transaction, holder: Holder, id: string): Promise<boolean> {
		const [column, holderId] = columnOf(holder);
		return (await tx.affected(`DELETE FROM session WHERE id = $1 AND ${column} = $2`, [id, holderId])) > 0;
	}

	/** Ends all of somebody's sessions, but one that she may keep. @returns how many */
	async endAll(tx: Transaction, holder: Holder, butId = ""): Promise<number> {
		const [column, id] = columnOf(holder);
		return tx.affected(`DELETE FROM session WHERE ${column} = $1 AND id <> $2`, [id, butId]);
	}

	/** She has shown once more who she is. */
	async proved(tx: Transaction, id: string): Promise<void> {
		await tx.affected("UPDATE session SET proved_at_ms = $2 WHERE id = $1", [id, this.clock.nowMs()]);
	}
}

/** @returns what a form of this session sends along, so that no other site can send it for her; it tells nothing of the cookie */
export function formTokenOf(secret: string): string {
	return hashOf(`form of ${secret}`);
}

function lengthsOf({ accountId }: { accountId: string | null }) {
	return accountId === null ? SESSION_LENGTHS.volunteer : SESSION_LENGTHS.account;
}

function isGoingOn(session: Session, nowMs: number): boolean {
	return nowMs < session.endsAtMs && nowMs < session.usedAtMs + lengthsOf(session).idleMs;
}

function columnOf(holder: Holder): ["account_id" | "person_id", string] {
	return "accountId" in holder ? ["account_id", holder.accountId] : ["person_id", holder.personId];
}
