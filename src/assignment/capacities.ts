import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { placeholders } from "../store/sql.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { assertSame, type ReadVersion, tagOf } from "./version.js";

/** What a volunteer has said that she can take on; null: nothing said. */
export interface Capacity {
	readonly latitudeDeg: number | null;
	readonly longitudeDeg: number | null;
	readonly mostHouseholds: number | null;
	readonly mostLitresPerDay: number | null;
	readonly mostHoursPerWeek: number | null;
	/** 'HH:MM' local. */
	readonly worksFrom: string | null;
	readonly worksUntil: string | null;
}

const NOTHING_SAID: Capacity = {
	latitudeDeg: null,
	longitudeDeg: null,
	mostHouseholds: null,
	mostLitresPerDay: null,
	mostHoursPerWeek: null,
	worksFrom: null,
	worksUntil: null,
};

/** What volunteers can take on, and where and when they work. */
export class Capacities {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
	) {}

	/** @throws InputError `unknown-subject` (404) */
	async of(personCode: string): Promise<{ capacity: Capacity; tag: string }> {
		return this.read(this.store, personCode);
	}

	/** @throws InputError `unknown-subject` (404), `conflict` (412) */
	change(personCode: string, capacity: Capacity, read: ReadVersion): Promise<{ capacity: Capacity; tag: string }> {
		return this.store.work.run(async (tx) => {
			const before = await this.read(tx, personCode);
			assertSame(read, before.tag, `What ${personCode} can take on`);
			await writeCapacity(tx, this.ids, before.id, capacity, { actor: "office", nowMs: this.clock.nowMs() });
			return this.read(tx, personCode);
		});
	}

	private async read(
		from: Pick<Transaction, "query">,
		personCode: string,
	): Promise<{ id: string; capacity: Capacity; tag: string }> {
		const stated = (await statedCapacities(from, [personCode])).get(personCode);
		if (!stated) throw new InputError("unknown-subject", "There is no person with this code.", { status: 404 });
		const { id, capacity } = stated;
		return { id, capacity, tag: tagOf(capacity) };
	}
}

interface Stated {
	readonly id: string;
	/** Anything was ever said. */
	readonly isStated: boolean;
	readonly capacity: Capacity;
}

/** @returns what people have said that they can take on, by code; who isn't on file isn't among them */
export async function statedCapacities(from: Pick<Transaction, "query">, codes: readonly string[]): Promise<Map<string, Stated>> {
	const rows = await from.query<{ id: string; code: string; personId: string | null } & Capacity>(
		`SELECT p.id, p.code, c.person_id, c.latitude_deg, c.longitude_deg, c.most_households, c.most_litres_per_day, c.most_hours_per_week, c.works_from, c.works_until
		 FROM person p LEFT JOIN volunteer_capacity c ON c.person_id = p.id WHERE p.code IN (${placeholders(codes.length)})`,
		codes,
	);
	return new Map(
		rows.map(({ id, code, personId, ...stored }) => [
			code,
			{ id, isStated: personId !== null, capacity: personId === null ? NOTHING_SAID : stored },
		]),
	);
}

/** Keeps what a volunteer can take on, with its ledger entry; her place isn't told there. */
export async function writeCapacity(
	tx: Transaction,
	ids: Ids,
	personId: string,
	capacity: Capacity,
	{ actor, nowMs }: { readonly actor: string; readonly nowMs: number },
): Promise<void> {
	const { latitudeDeg, longitudeDeg, mostHouseholds, mostLitresPerDay, mostHoursPerWeek, worksFrom, worksUntil } = capacity;
	await tx.affected(
		`INSERT INTO volunteer_capacity (person_id, latitude_deg, longitude_deg, most_households, most_litres_per_day, most_hours_per_week,
		 works_from, works_until, changed_at_ms) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
		 ON CONFLICT (person_id) DO UPDATE SET latitude_deg = excluded.latitude_deg, longitude_deg = excluded.longitude_deg,
		 most_households = excluded.most_households, most_litres_per_day = excluded.most_litres_per_day,
		 most_hours_per_week = excluded.most_hours_per_week, works_from = excluded.works_from, works_until = excluded.works_until,
		 changed_at_ms = excluded.changed_at_ms`,
		[personId, latitudeDeg, longitudeDeg, mostHouseholds, mostLitresPerDay, mostHoursPerWeek, worksFrom, worksUntil, nowMs],
	);
	const detail = { mostHouseholds, mostLitresPerDay, mostHoursPerWeek, worksFrom, worksUntil };
	await record(tx, ids, [{ atMs: nowMs, actor, action: "capacity changed", subjectKind: "person", subjectId: personId, detail }]);
}
