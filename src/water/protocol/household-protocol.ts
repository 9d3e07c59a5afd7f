import { InputError } from "../../errors/errors.js";
import { record } from "../../ledger/ledger.js";
import { placeholders } from "../../store/sql.js";
import type { Store } from "../../store/store.js";
import type { Transaction } from "../../store/unit-of-work.js";
import type { Clock } from "../../time/clock.js";
import type { Ids } from "../../time/ids.js";
import { named, type ProtocolVersion, versionIn } from "./accept.js";
import { protocolsKept } from "./followed.js";

/** Who moves households to another protocol, and why. */
export interface Move {
	readonly code: string;
	readonly version: number;
	readonly actor: string;
	readonly why: string;
}

/** Which household follows which protocol: the version it began with, until it is moved. */
export class HouseholdProtocols {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
	) {}

	/**
	 * The version that a household follows. One that has none yet begins with the default and keeps it from now on.
	 * @throws InputError `unknown-subject` (404) for a household that isn't there, or where no default has been set
	 */
	async of(householdId: string): Promise<ProtocolVersion> {
		return this.store.work.run(async (tx) => {
			const kept = await protocolsKept(tx, this.ids, [householdId], this.clock.nowMs());
			return kept.get(householdId) as ProtocolVersion;
		});
	}

	/**
	 * Moves households to a version, all or none. A household that follows it already isn't touched; water that was dosed under the old
	 * version is judged by that until the container is filled again.
	 * @returns how many were moved
	 * @throws InputError `unknown-subject` (404) for a version or household that isn't there
	 */
	async move(householdIds: readonly string[], move: Move): Promise<number> {
		return this.store.work.run(async (tx) => {
			const to = await versionIn(tx, move.code, move.version);
			let moved = 0;
			const once = [...new Set(householdIds)];
			for (let from = 0; from < once.length; from += 500) moved += await this.put(tx, once.slice(from, from + 500), to, move);
			return moved;
		});
	}

	/** Moves all households of an area and of those below it. @returns how many were moved @throws InputError as `move` */
	async moveArea(areaId: string, move: Move): Promise<number> {
		return this.store.work.run(async (tx) => {
			const rows = await tx.query<{ id: string }>(
				`WITH RECURSIVE below(id) AS (SELECT id FROM area WHERE id = $1 UNION SELECT a.id FROM area a JOIN below b ON a.parent_id = b.id)
				 SELECT h.id FROM household h JOIN below b ON b.id = h.area_id ORDER BY h.id`,
				[areaId],
			);
			return this.move(
				rows.map(({ id }) => id),
				move,
			);
		});
	}

	private async put(
		tx: Transaction,
		householdIds: readonly string[],
		to: ProtocolVersion,
		{ actor, why }: Pick<Move, "actor" | "why">,
	): Promise<number> {
		const rows = await tx.query<{ id: string; areaId: string; versionId: string | null; code: string; version: number }>(
			`SELECT h.id, h.area_id, v.id AS version_id, v.code, v.version FROM household h
			 LEFT JOIN household_protocol p ON p.household_id = h.id
			 LEFT JOIN protocol_version v ON v.id = p.protocol_version_id
			 WHERE h.id IN (${placeholders(householdIds.length)})`,
			householdIds,
		);
		const absent = householdIds.filter((id) => !rows.some((row) => row.id === id));
		if (absent.length > 0)
			throw new InputError("unknown-subject", `There is no household ${absent.slice(0, 5).join(", ")}.`, { status: 404 });
		const moving = rows.filter(({ versionId }) => versionId !== to.id);
		const atMs = this.clock.nowMs();
		for (const { id, versionId } of moving) {
			const put = versionId
				? await tx.affected(
						`UPDATE household_protocol SET protocol_version_id = $1, since_ms = $2
						 WHERE household_id = $3 AND protocol_version_id = $4`,
						[to.id, atMs, id, versionId],
					)
				: await tx.affected(
						`INSERT INTO household_protocol (household_id, protocol_version_id, since_ms) VALUES ($1, $2, $3)
						 ON CONFLICT (household_id) DO NOTHING`,
						[id, to.id, atMs],
					);
			// Whoever comes second has decided on something that isn't so any more, and the ledger would tell a wrong story.
			if (put === 0)
				throw new InputError("conflict", "The household has been given another protocol at the same time. Look, and ask again.", {
					status: 409,
				});
		}
		await record(
			tx,
			this.ids,
			moving.map((row) => ({
				atMs,
				actor,
				action: row.versionId ? "household moved to protocol" : "household given protocol",
				subjectKind: "household",
				subjectId: row.id,
				areaId: row.areaId,
				detail: { from: row.versionId ? named(row) : null, to: named(to), why },
			})),
		);
		return moving.length;
	}
}
