import { record } from "../ledger/ledger.js";
import type { Store } from "../store/store.js";
import { type Clock, HOUR_MS } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import type { Scope } from "./rules.js";
import { hashOf, newSecret } from "./secrets.js";

export interface ApiKey {
	readonly id: string;
	readonly name: string;
	readonly scopes: readonly Scope[];
	readonly areaId: string | null;
	readonly madeBy: string;
	readonly madeAtMs: number;
	readonly endsAtMs: number;
	readonly usedAtMs: number | null;
	readonly revokedAtMs: number | null;
}

export interface NewApiKey {
	readonly name: string;
	readonly scopes: readonly Scope[];
	readonly areaId: string | null;
	readonly endsAtMs: number;
}

/** Begins every key, so that whoever finds one knows what it opens. */
const PREFIX = "jw_";
const NOTED_EVERY_MS = HOUR_MS;
const COLUMNS = "id, name, scopes, area_id, made_by, made_at_ms, ends_at_ms, used_at_ms, revoked_at_ms";

/** Keys by which programs come in. A key is told once, when it is made; what is kept is its hash. */
export class ApiKeys {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
	) {}

	/** @returns the key itself, which is told this once */
	make({ name, scopes, areaId, endsAtMs }: NewApiKey, madeBy: string): Promise<{ id: string; key: string }> {
		const id = this.ids.next();
		const key = PREFIX + newSecret();
		return this.store.work.run(async (tx) => {
			const atMs = this.clock.nowMs();
			await tx.affected(
				"INSERT INTO api_key (id, name, key_hash, scopes, area_id, made_by, made_at_ms, ends_at_ms) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)",
				[id, name, hashOf(key), JSON.stringify(scopes), areaId, madeBy, atMs, endsAtMs],
			);
			const detail = { name, scopes, endsAtMs };
			const entry = { atMs, actor: madeBy, action: "key made", subjectKind: "key", subjectId: id, areaId, detail };
			await record(tx, this.ids, [entry]);
			return { id, key };
		});
	}

	/** @returns the key's entry; none where there is no such key, its time is over, or it was taken back */
	async of(key: string): Promise<ApiKey | undefined> {
		if (!key.startsWith(PREFIX)) return undefined;
		const [found] = await this.store.query<Row>(`SELECT ${COLUMNS} FROM api_key WHERE key_hash = $1`, [hashOf(key)]);
		const nowMs = this.clock.nowMs();
		if (!found || found.revokedAtMs !== null || nowMs >= found.endsAtMs) return undefined;
		if (nowMs - (found.usedAtMs ?? 0) >= NOTED_EVERY_MS)
			await this.store.work.run((tx) => tx.affected("UPDATE api_key SET used_at_ms = $2 WHERE id = $1", [found.id, nowMs]));
		return keyOf(found);
	}

	async list(): Promise<ApiKey[]> {
		return (await this.store.query<Row>(`SELECT ${COLUMNS} FROM api_key ORDER BY made_at_ms DESC, id`)).map(keyOf);
	}

	/** @returns whether there was such a key that could still be used */
	revoke(id: string, by: string): Promise<boolean> {
		return this.store.work.run(async (tx) => {
			const atMs = this.clock.nowMs();
			const ended = await tx.affected("UPDATE api_key SET revoked_at_ms = $2 WHERE id = $1 AND revoked_at_ms IS NULL", [
				id,
				atMs,
			]);
			if (ended === 0) return false;
			const entry = { atMs, actor: by, action: "key revoked", subjectKind: "key", subjectId: id, detail: {} };
			await record(tx, this.ids, [entry]);
			return true;
		});
	}
}

type Row = Omit<ApiKey, "scopes"> & { readonly scopes: string };

function keyOf({ scopes, ...rest }: Row): ApiKey {
	return { ...rest, scopes: JSON.parse(scopes) as Scope[] };
}
