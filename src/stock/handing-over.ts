import { InputError } from "../errors/errors.js";
import type { Exposure } from "../science/exposure.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";
import { stockChanged } from "./due-work.js";
import { jarOnLedger, type KnownJar, refuseWrongTime, type TakenOut } from "./moves.js";
import { BatchRow, JarStayRow } from "./rows.js";

/** Where a jar is to stand; ids that are known to exist. Neither keeper nor household: at its production point. */
export interface NewPlace {
	readonly areaId: string;
	readonly keeperId: string | null;
	readonly householdId: string | null;
	/** Left out: as it stood before. */
	readonly exposure?: Exposure;
}

/**
 * Gives a whole jar to another keeper or place. What is in it stays as it is; the forecast follows the new place from then on, and is the
 * caller's to refresh.
 * @throws InputError `unknown-subject`, `time-in-future`, `time-before-made`, `conflict` (discarded, or handed over later already)
 */
export async function handOver(
	tx: Transaction,
	ids: Ids,
	jarId: string,
	to: NewPlace,
	when: Omit<TakenOut, "volumeMl">,
): Promise<void> {
	const jar = await jarOnLedger(tx, jarId, when.nowMs);
	const timeAt = when.at?.time ?? "/at";
	refuseWrongTime(jar, when, timeAt);
	refuseBeforeLast(jar, when.atMs, timeAt);
	const row = await standing(tx, ids, jar, when.nowMs);
	const exposure = to.exposure ?? row.exposure;
	await stockChanged(tx, [jarId], when.nowMs);
	await tx.affected("UPDATE batch SET area_id = $2, keeper_id = $3, household_id = $4, exposure = $5 WHERE id = $1", [
		jarId,
		to.areaId,
		to.keeperId,
		to.householdId,
		exposure,
	]);
	await tx.affected("UPDATE due SET area_id = $2 WHERE subject_id = $1", [jarId, to.areaId]);
	await tx.manager.insert(JarStayRow, {
		...stayOf({ ...row, ...to, exposure }, jar.fill),
		id: ids.next(),
		sinceMs: when.atMs,
		recordedAtMs: when.nowMs,
		byPersonId: when.byPersonId,
	});
	await stockChanged(tx, [jarId], when.nowMs);
}

/** @returns the jar's row, once the place where it has stood so far is written down */
export async function standing(tx: Transaction, ids: Ids, jar: KnownJar, nowMs: number): Promise<BatchRow> {
	const row = await tx.manager.findOneByOrFail(BatchRow, { id: jar.id });
	const known = await tx.manager.existsBy(JarStayRow, { jarId: jar.id, fill: jar.fill });
	if (!known)
		await tx.manager.insert(JarStayRow, {
			...stayOf(row, jar.fill),
			id: ids.next(),
			sinceMs: row.madeAtMs,
			recordedAtMs: nowMs,
			byPersonId: null,
		});
	return row;
}

function stayOf(row: BatchRow, fill: number) {
	const { id: jarId, areaId, keeperId, wall, exposure, volumeL, litAreaM2 } = row;
	return {
		jarId,
		inJarId: jarId,
		fill,
		areaId,
		keeperId,
		householdId: row.householdId ?? null,
		wall,
		exposure,
		volumeL,
		litAreaM2,
	};
}

function refuseBeforeLast(jar: KnownJar, atMs: number, at: string): void {
	if (atMs >= jar.placedAtMs) return;
	const since = new Date(jar.placedAtMs).toISOString();
	throw new InputError(
		"conflict",
		`Jar ${jar.code} stands in its present place since ${since}; it can't have been handed over before.`,
		{
			status: 409,
			problems: [{ at, message: `must not be before ${since}` }],
		},
	);
}
