import { addMoves, openLedger, UL_PER_L, UL_PER_ML } from "../stock/moves.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { District } from "./district.js";

/** Writes what was taken from the jars in use for the doses that were given before the demonstration begins. */
export async function writeStockHistory(tx: Transaction, { batches, doses, startAtMs }: District): Promise<void> {
	const left = new Map(
		batches.filter(({ state }) => state === "in use").map(({ id, volumeL }) => [id, Math.round(volumeL * UL_PER_L)]),
	);
	await openLedger(tx, [...left.keys()], startAtMs);
	const given = doses.filter(({ dosedAtMs }) => dosedAtMs <= startAtMs).sort((a, b) => a.dosedAtMs - b.dosedAtMs);
	const taken = given.flatMap(({ id, batchId, bleachMl, dosedAtMs }) => {
		const volumeUl = Math.round(bleachMl * UL_PER_ML);
		const heldUl = left.get(batchId) ?? 0;
		if (volumeUl < 1 || volumeUl >= heldUl) return [];
		left.set(batchId, heldUl - volumeUl);
		const line = {
			id: `${id}.used`,
			jarId: batchId,
			kind: "used" as const,
			volumeUl: -volumeUl,
			otherJarId: null,
			reference: id,
		};
		return [{ ...line, atMs: dosedAtMs, recordedAtMs: startAtMs, byPersonId: null }];
	});
	await addMoves(tx, taken);
	for (const [id, heldUl] of left) await tx.affected("UPDATE batch SET held_ul = $2 WHERE id = $1", [id, heldUl]);
}
