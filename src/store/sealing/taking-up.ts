import type { DataSource } from "typeorm";
import { InputError } from "../../errors/errors.js";
import { type Transaction, UnitOfWork } from "../unit-of-work.js";
import { guardOf, setGuard } from "./guards.js";
import { resealed } from "./resealed.js";
import type { Sealing } from "./sealing.js";

const PROOF = "jarwatch";

/**
 * Makes sure that the keys are those of this database, and that every sealed column is sealed: a column that has just become one is guarded by
 * the database from then on, and its values are sealed a page at a time. Stopped in the middle, it goes on at the next start.
 * @returns how many values were sealed
 * @throws InputError `data-key-wrong` where a key is missing under which values rest here
 */
export async function takenUp(source: DataSource, sealing: Sealing): Promise<number> {
	const work = new UnitOfWork(source);
	await work.run((tx) => checkKeys(tx, sealing));
	const taken = await work.run((tx) => tx.query<{ id: string; guard: string }>("SELECT id, guard FROM sealed_column"));
	const guards = new Map(taken.map(({ id, guard }) => [id, guard]));
	let sealed = 0;
	for (const column of sealing.columns) {
		const guard = guardOf(column, work.kind);
		if (guards.get(column.label) === guard) continue;
		await work.run((tx) => setGuard(tx, column, guard));
		sealed += await resealed(work, sealing, column, "plain");
		await work.run((tx) =>
			tx.affected("INSERT INTO sealed_column (id, guard) VALUES ($1, $2) ON CONFLICT (id) DO UPDATE SET guard = excluded.guard", [
				column.label,
				guard,
			]),
		);
	}
	// What lay plain in free pages of the file goes too.
	if (sealed > 0 && work.kind === "sqlite")
		for (const statement of ["VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"]) await source.query(statement);
	return sealed;
}

async function checkKeys(tx: Transaction, { keys }: Sealing): Promise<void> {
	const known = await tx.query<{ id: string; proof: string }>("SELECT id, proof FROM data_key ORDER BY id");
	const missing = known.filter(({ id }) => !keys.ids.includes(id));
	if (missing.length > 0)
		throw new InputError(
			"data-key-wrong",
			`Names and numbers rest here under the key ${missing.map(({ id }) => id).join(", ")}, and what is configured is ${keys.ids.join(", ")}. Put that key into JARWATCH_DATA_KEY (or data.key back into the data folder); after a change of keys the old one stands behind the new one until "jarwatch reseal" has ended.`,
		);
	for (const { proof } of known) keys.open("data_key.proof", proof);
	const [first] = keys.ids;
	if (!known.some(({ id }) => id === first))
		await tx.affected("INSERT INTO data_key (id, proof) VALUES ($1, $2)", [first, keys.seal("data_key.proof", PROOF)]);
}
