import type { Transaction } from "../../src/store/unit-of-work.js";

/** Takes the database's own refusal away to change or remove a row of the ledger, as somebody with its password could. */
export async function unguarded(tx: Transaction): Promise<void> {
	for (const table of ["ledger_entry", "ledger_seal", "ledger_anchor"])
		if (tx.kind === "postgres") await tx.query(`ALTER TABLE ${table} DISABLE TRIGGER USER`);
		else for (const act of ["update", "delete"]) await tx.query(`DROP TRIGGER IF EXISTS ${table}_no_${act}`);
}

/** Empties the ledger, so that a suite can keep one database. */
export async function emptyLedger(tx: Transaction): Promise<void> {
	await unguarded(tx);
	for (const table of ["ledger_entry", "ledger_waiting", "ledger_seal", "ledger_anchor"]) await tx.query(`DELETE FROM ${table}`);
}
