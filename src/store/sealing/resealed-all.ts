import type { Store } from "../store.js";
import { UnitOfWork } from "../unit-of-work.js";
import { resealed } from "./resealed.js";

/**
 * Seals anew whatever rests under an older key, a page at a time; stopped in the middle, it goes on at the next call. Once it has ended, the
 * older keys needn't be configured any more.
 * @returns how many values were sealed anew
 */
export async function resealedAll(store: Store): Promise<number> {
	const sealing = store.sealing;
	const work = new UnitOfWork(store.writer);
	let sealed = 0;
	for (const column of sealing.columns) sealed += await resealed(work, sealing, column, "old");
	await work.run((tx) => tx.affected("DELETE FROM data_key WHERE id <> $1", [sealing.keys.ids[0]]));
	return sealed;
}
