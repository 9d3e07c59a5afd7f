import type { Row } from "./sql.js";

/** What may be asked of a database within one transaction. */
export interface Statements {
	readonly kind: "sqlite" | "postgres";
	/** Runs one statement with `$1`, `$2`... on either database. @returns its rows with property names in camel case */
	query<T extends object = Row>(statement: string, parameters?: readonly unknown[]): Promise<T[]>;
	/** Runs one statement and returns how many rows it touched. */
	affected(statement: string, parameters?: readonly unknown[]): Promise<number>;
	/**
	 * Adds rows to a table, as fast as the database takes them.
	 * @param rows one list of values a row, in the order of the columns; texts without half characters
	 * @param otherwise what follows on a conflict: `ON CONFLICT ...`
	 * @returns how many rows were added or changed
	 */
	insert(table: string, columns: readonly string[], rows: readonly (readonly unknown[])[], otherwise?: string): Promise<number>;
	/**
	 * Runs one statement for each list of parameters. On PostgreSQL each is a way to the server and back: for many, one statement is better.
	 * @returns the numbers of those lists, from 0, for which it touched a row
	 */
	each(statement: string, lists: readonly (readonly unknown[])[]): Promise<number[]>;
}

/** @returns rows as objects, from lists of values and the names that belong to them */
export function namedRows<T extends object>(names: readonly string[], lists: readonly (readonly unknown[])[]): T[] {
	return lists.map((values) => {
		const row: Record<string, unknown> = {};
		for (let i = 0; i < names.length; i++) row[names[i]!] = values[i];
		return row as T;
	});
}
