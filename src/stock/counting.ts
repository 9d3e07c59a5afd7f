import { InputError } from "../errors/errors.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";
import { stockChanged } from "./due-work.js";
import { addMoves, jarOnLedger, refuseWrongTime, type TakenOut, UL_PER_L, UL_PER_ML } from "./moves.js";

/** What was found in a jar when somebody measured it. */
export interface Counted extends Omit<TakenOut, "volumeMl"> {
	/** 0 or more, and no more than what the jar was filled with. */
	readonly foundMl: number;
}

/**
 * Puts right what a jar holds: the difference is a line of its own, so that the lines before stay as they were written.
 * @returns mL by which it differed: more than 0 where more was found
 * @throws InputError `unknown-subject`, `invalid-input` (less than nothing, or more than was ever filled in), `time-in-future`, `time-before-made`, `conflict`
 */
export async function countJar(tx: Transaction, ids: Ids, jarId: string, counted: Counted): Promise<number> {
	const at = counted.at ?? { volume: "/volumeMl", time: "/at" };
	const jar = await jarOnLedger(tx, jarId, counted.nowMs);
	refuseWrongTime(jar, counted, at.time);
	const foundUl = Math.round(counted.foundMl * UL_PER_ML);
	const filledUl = await filledWith(tx, jarId, jar.fill);
	if (!(foundUl >= 0 && foundUl <= filledUl))
		throw new InputError(
			"invalid-input",
			`Jar ${jar.code} was filled with ${filledUl / UL_PER_ML} mL; ${counted.foundMl} mL can't be in it.`,
			{
				problems: [{ at: at.volume, message: `must be 0 to ${filledUl / UL_PER_ML} (mL), which the jar was filled with` }],
			},
		);
	const kept = await tx.affected(
		`UPDATE batch SET held_ul = $2, state = CASE WHEN CAST($2 AS integer) = 0 THEN 'empty' WHEN state = 'empty' THEN 'in use' ELSE state END
		 WHERE id = $1 AND held_ul = $3 AND state <> 'discarded'`,
		[jarId, foundUl, jar.heldUl],
	);
	// Somebody took some at the same moment: what was found is compared with what is left on the books then.
	if (kept === 0) return countJar(tx, ids, jarId, counted);
	const volumeUl = foundUl - jar.heldUl;
	if (volumeUl === 0) return 0;
	const { atMs, nowMs, byPersonId, reference } = counted;
	const line = { id: ids.next(), jarId, atMs, recordedAtMs: nowMs, byPersonId, otherJarId: null, reference: reference ?? null };
	await addMoves(tx, [{ ...line, kind: "corrected", volumeUl }]);
	await stockChanged(tx, [jarId], nowMs);
	return volumeUl / UL_PER_ML;
}

/** More than this can't be in the jar: what came into it when it was last filled. */
async function filledWith(tx: Transaction, jarId: string, fill: number): Promise<number> {
	const [jar] = await tx.query<{ volumeL: number }>("SELECT volume_l FROM batch WHERE id = $1 AND COALESCE(fill, 1) = $2", [
		jarId,
		fill,
	]);
	return Math.round((jar?.volumeL ?? 0) * UL_PER_L);
}
