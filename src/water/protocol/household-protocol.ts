import { InputError } from "../../errors/errors.js";
import { record } from "../../ledger/ledger.js";
import { placeholders } from "../../store/sql.js";
import type { Store } from "../../store/store.js";
import type { Transaction } from "../../store/unit-of-work.js";
import type { Clock } from "../../time/clock.js";
import type { Ids } from "../../time/ids.js";
import { defaultIn, type KeptVersion, named, type ProtocolVersion, VERSION_COLUMNS, versionIn, versionOf } from "./accept.js";

/** Who moves a household to another protocol, and why. */
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
			const kept = await followedIn(tx, householdId);
			if (kept) return kept;
			const first = await defaultIn(tx);
			if (!first)
				throw new InputError("unknown-subject", "No default protocol has been set. Accept one and make it the default.", {
					status: 404,
				});
			// Two may ask at once for the first time: one gives it the default, and both are told what it has then.
			await this.put(tx, [householdId], first, { actor: "programme", why: "begins with the default", whereOther: "leave" });
			return (await followedIn(tx, householdId)) ?? first;
		});
	}

	/**
	 * Moves households to a version, all or none. A household that follows it already isn't touched.
	 * @returns how many were moved
	 * @throws InputError `unknown-subject` (404) for a version or household that isn't there
	 */
	async move(householdIds: readonly string[], move: Move): Promise<number> {
		return this.store.work.run(async (tx) => {
			const to = await versionIn(tx, move.code, move.version);
			let moved = 0;
			const once = [...new Set(householdIds)];
			for (let from = 0; from < once.length; from += 500)
				moved += await this.put(tx, once.slice(from, from + 500), to, { ...move, whereOther: "refuse" });
			return moved;
		});
	}

	private async put(
		tx: Transaction,
		householdIds: readonly string[],
		to: ProtocolVersion,
		{ actor, why, whereOther }: Pick<Move, "actor" | "why"> & { whereOther: "refuse" | "leave" },
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
		const moved: typeof rows = [];
		for (const row of moving) {
			const { id, versionId } = row;
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
			if (put > 0) moved.push(row);
			else if (whereOther === "refuse")
				throw new InputError("conflict", "The household has been given another protocol at the same time. Look, and ask again.", {
					status: 409,
				});
		}
		await record(
			tx,
			this.ids,
			moved.map((row) => ({
				atMs,
				actor,
				action: row.versionId ? "household moved to protocol" : "household given protocol",
				subjectKind: "household",
				subjectId: row.id,
				areaId: row.areaId,
				detail: { from: row.versionId ? named(row) : null, to: named(to), why },
			})),
		);
		return moved.length;
	}
}

async function followedIn(tx: Transaction, householdId: string): Promise<ProtocolVersion | undefined> {
	const [row] = await tx.query<KeptVersion>(
		`SELECT ${VERSION_COLUMNS} FROM household_protocol p JOIN protocol_version v ON v.id = p.protocol_version_id
		 WHERE p.household_id = $1`,
		[householdId],
	);
	return row ? versionOf(row) : undefined;
}
