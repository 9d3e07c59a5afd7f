import type { DataSource } from "typeorm";
import type { Keyring } from "./keyring.js";
import { type SealedColumn, sealedColumnsOf } from "./sealed-columns.js";
import { Sealing } from "./sealing.js";

interface Field {
	readonly tableID: number;
	readonly columnID: number;
}

/** The same on PostgreSQL, whose answers name columns by the numbers that they have in the database. */
export class PostgresSealing {
	private constructor(
		readonly sealing: Sealing,
		private readonly byNumbers: ReadonlyMap<string, SealedColumn>,
	) {}

	static async for(source: DataSource, keys: Keyring): Promise<PostgresSealing> {
		const sealing = new Sealing(keys, sealedColumnsOf(source));
		const numbers = (await source.query(
			`SELECT c.oid::integer AS table_number, c.relname, a.attnum, a.attname FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid
			 WHERE c.relnamespace = current_schema()::regnamespace AND c.relname = ANY($1::text[]) AND a.attnum > 0`,
			[sealing.columns.map(({ table }) => table)],
		)) as { table_number: number; relname: string; attnum: number; attname: string }[];
		return new PostgresSealing(
			sealing,
			new Map(
				numbers.flatMap(({ table_number, relname, attnum, attname }) => {
					const column = sealing.of(relname, attname);
					return column ? [[`${table_number}.${attnum}`, column] as const] : [];
				}),
			),
		);
	}

	open(fields: readonly Field[], rows: readonly unknown[][]): void {
		const from = fields.map(({ tableID, columnID }) =>
			tableID === 0 ? undefined : this.byNumbers.get(`${tableID}.${columnID}`),
		);
		if (from.some(Boolean)) this.sealing.open(from, rows);
	}

	parameters(statement: string, given: readonly unknown[]): readonly unknown[] {
		return this.sealing.parameters(statement, given);
	}

	rows(...of: Parameters<Sealing["rows"]>): ReturnType<Sealing["rows"]> {
		return this.sealing.rows(...of);
	}
}
