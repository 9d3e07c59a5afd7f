import type { Transaction } from "../unit-of-work.js";
import { isPlainInSql } from "./envelope.js";
import { isToBeSealedInSql, type SealedColumn } from "./sealed-columns.js";

/** @returns the condition under which the database refuses a value of the column: it is to be sealed and isn't */
export function guardOf(column: SealedColumn, kind: Transaction["kind"]): string {
	const value = `NEW.${column.column}`;
	return `${isPlainInSql(value)} AND ${isToBeSealedInSql(column, value, kind)}`;
}

/** From then on the database itself refuses what isn't sealed, whoever writes it. */
export async function setGuard(tx: Transaction, column: SealedColumn, guard: string): Promise<void> {
	const name = `sealed_${column.table}_${column.column}`;
	for (const statement of tx.kind === "postgres" ? onPostgres(column, name, guard) : onSqlite(column, name, guard))
		await tx.query(statement);
}

function onSqlite({ table, column, label }: SealedColumn, name: string, guard: string): string[] {
	const refuse = `WHEN ${guard} BEGIN SELECT RAISE(ABORT, '${label} takes sealed values only'); END`;
	return [
		`DROP TRIGGER IF EXISTS ${name}_new`,
		`DROP TRIGGER IF EXISTS ${name}_changed`,
		`CREATE TRIGGER ${name}_new BEFORE INSERT ON "${table}" ${refuse}`,
		`CREATE TRIGGER ${name}_changed BEFORE UPDATE OF "${column}" ON "${table}" ${refuse}`,
	];
}

function onPostgres({ table, column, label }: SealedColumn, name: string, guard: string): string[] {
	return [
		`CREATE OR REPLACE FUNCTION refuse_unsealed() RETURNS trigger LANGUAGE plpgsql AS
		 $body$ BEGIN RAISE EXCEPTION '% takes sealed values only', TG_ARGV[0]; END $body$`,
		`DROP TRIGGER IF EXISTS ${name} ON "${table}"`,
		`CREATE TRIGGER ${name} BEFORE INSERT OR UPDATE OF "${column}" ON "${table}" FOR EACH ROW WHEN (${guard}) EXECUTE FUNCTION refuse_unsealed('${label}')`,
	];
}
