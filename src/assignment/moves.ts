import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { placeholders, valuesOf } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";

/** A household that changes its volunteer; none: nobody. */
export interface HouseholdMove {
	readonly householdId: string;
	readonly fromId: string | null;
	readonly toId: string | null;
}

/** Who moved it, when, and why in a few words. */
export interface Moving {
	readonly actor: string;
	readonly nowMs: number;
	readonly because: string;
	readonly absenceId?: string | undefined;
}

/** What else changes hands with households, in the same unit of work: jars that stand in them, open tasks, and the people are told. */
export type AfterMoving = (tx: Transaction, moves: readonly HouseholdMove[], moving: Moving) => Promise<void>;

/** What moving is made of. */
export interface MovingParts {
	readonly ids: Ids;
	readonly afterMoving: AfterMoving;
}

const PAGE = 400;

/**
 * Gives households to other volunteers: all of them, with a ledger entry each, or none.
 * @param moves those that stay where they are are left out
 * @returns how many moved
 * @throws InputError `conflict` (409) with the households that somebody else has given away meanwhile
 */
export async function moveHouseholds(
	tx: Transaction,
	{ ids, afterMoving }: MovingParts,
	moves: readonly HouseholdMove[],
	moving: Moving,
): Promise<number> {
	const real = moves.filter(({ fromId, toId }) => fromId !== toId);
	for (let from = 0; from < real.length; from += PAGE) {
		const page = real.slice(from, from + PAGE);
		const { text, parameters } = valuesOf(page.map(({ householdId, fromId, toId }) => [householdId, toId, fromId]));
		const moved = await tx.query<{ id: string; code: string; areaId: string }>(
			`UPDATE household SET volunteer_id = CAST(v.column2 AS text) FROM (VALUES ${text}) AS v
			 WHERE household.id = v.column1 AND household.volunteer_id IS NOT DISTINCT FROM CAST(v.column3 AS text)
			 RETURNING household.id, household.code, household.area_id`,
			parameters,
		);
		const byId = new Map(moved.map((household) => [household.id, household]));
		const changed = page.filter(({ householdId }) => !byId.has(householdId));
		if (changed.length > 0) throw await changedMeanwhile(tx, changed);
		await record(
			tx,
			ids,
			page.map(({ householdId, fromId, toId }) => ({
				atMs: moving.nowMs,
				actor: moving.actor,
				action: "household assigned",
				subjectKind: "household",
				subjectId: householdId,
				areaId: byId.get(householdId)?.areaId ?? null,
				detail: { code: byId.get(householdId)?.code, fromId, toId, because: moving.because },
			})),
		);
	}
	if (real.length > 0) await afterMoving(tx, real, moving);
	return real.length;
}

async function changedMeanwhile(tx: Transaction, changed: readonly HouseholdMove[]): Promise<InputError> {
	const rows = await tx.query<{ code: string; volunteerCode: string | null }>(
		`SELECT h.code, p.code AS volunteer_code FROM household h LEFT JOIN person p ON p.id = h.volunteer_id WHERE h.id IN (${placeholders(changed.length)}) ORDER BY h.code`,
		changed.map(({ householdId }) => householdId),
	);
	const problems = rows.map(({ code, volunteerCode }) => ({
		at: "",
		message: `household ${code} is ${volunteerCode ? `with ${volunteerCode}` : "with nobody"} now: look at it again`,
	}));
	return new InputError(
		"conflict",
		`${rows.length} of the households have been given to somebody else meanwhile; nothing was changed.`,
		{
			status: 409,
			problems: problems.slice(0, 100),
		},
	);
}
