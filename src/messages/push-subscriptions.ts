import { Blind } from "../store/sealing/blind.js";
import { blindOfColumn, isSealedInSql } from "../store/sealing/envelope.js";
import { among } from "../store/sql.js";
import type { Store } from "../store/store.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";

/** A browser that shows messages, and the keys to encrypt for it, as it gives them. Source: RFC 8291 (2017), section 2 */
export interface PushSubscription {
	/** Address at its push service. */
	readonly endpoint: string;
	/** Its public key, a point of P-256, in base64url. */
	readonly p256dh: string;
	/** Its authentication secret, 16 bytes in base64url. */
	readonly auth: string;
}

/** Who has which browsers. */
export abstract class PushSubscriptions {
	abstract of(personId: string): Promise<readonly PushSubscription[]>;

	/** The push service says that it is gone for good. */
	abstract remove(endpoint: string): Promise<void>;
}

export class NoSubscriptions extends PushSubscriptions {
	async of(): Promise<readonly PushSubscription[]> {
		return [];
	}

	async remove(): Promise<void> {}
}

/** Old ones of browsers that were reset needn't pile up. */
const MOST_A_PERSON = 10;

export class StoredPushSubscriptions extends PushSubscriptions {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
	) {
		super();
	}

	of(personId: string): Promise<readonly PushSubscription[]> {
		return this.store.query<PushSubscription>(
			"SELECT endpoint, p256dh, auth FROM push_subscription WHERE person_id = $1 ORDER BY created_at_ms, id",
			[personId],
		);
	}

	async remove(endpoint: string): Promise<void> {
		await this.store.work.run((tx) =>
			tx.affected(`DELETE FROM push_subscription WHERE ${blindOfColumn("endpoint")} ${among(tx.kind, "$1")}`, [
				new Blind("endpoint", endpoint),
			]),
		);
	}

	/** Keeps a browser for a person, its newest keys, and the ten newest browsers; one that was another person's is hers now. */
	async add(personId: string, { endpoint, p256dh, auth }: PushSubscription): Promise<void> {
		await this.store.work.run(async (tx) => {
			await tx.affected(
				`INSERT INTO push_subscription (id, person_id, endpoint, p256dh, auth, created_at_ms) VALUES ($1, $2, $3, $4, $5, $6)
				 ON CONFLICT (${blindOfColumn("endpoint")}) WHERE ${isSealedInSql("endpoint")} DO UPDATE SET person_id = excluded.person_id, p256dh = excluded.p256dh, auth = excluded.auth, created_at_ms = excluded.created_at_ms`,
				[this.ids.next(), personId, endpoint, p256dh, auth, this.clock.nowMs()],
			);
			await tx.affected(
				`DELETE FROM push_subscription WHERE person_id = $1 AND id NOT IN
				 (SELECT id FROM push_subscription WHERE person_id = $1 ORDER BY created_at_ms DESC, id DESC LIMIT ${MOST_A_PERSON})`,
				[personId],
			);
		});
	}
}
