import type { QueryRunner } from "typeorm";
import { camelCase } from "./columns.js";
import type { PostgresSealing } from "./sealing/postgres-sealing.js";
import { namedRows, type Statements } from "./statements.js";

/** As much of the driver's connection as is used here. */
interface Connection {
	query(asked: {
		readonly name: string | undefined;
		readonly text: string;
		readonly values: readonly unknown[];
		readonly rowMode: "array";
	}): Promise<Answer>;
}

interface Answer {
	/** Each with the table's and the column's number in the database; 0 where it comes from none. */
	readonly fields: readonly { readonly name: string; readonly tableID: number; readonly columnID: number }[];
	readonly rows: readonly unknown[][];
	readonly rowCount: number | null;
}

/** Statements on one connection to PostgreSQL. */
export class PostgresStatements implements Statements {
	readonly kind = "postgres";

	constructor(
		private readonly runner: QueryRunner,
		private readonly sealing?: PostgresSealing,
	) {}

	async query<T extends object>(statement: string, parameters: readonly unknown[] = []): Promise<T[]> {
		const { fields, rows } = await this.answer(statement, this.asKept(statement, parameters));
		if (rows.length === 0) return [];
		this.sealing?.open(fields, rows);
		return namedRows<T>(
			fields.map(({ name }) => camelCase(name)),
			rows,
		);
	}

	async affected(statement: string, parameters: readonly unknown[] = []): Promise<number> {
		return (await this.answer(statement, this.asKept(statement, parameters))).rowCount ?? 0;
	}

	/** The rows go as one parameter: the text is always the same and is read once, and the table says of which type each value is. */
	async insert(
		table: string,
		columns: readonly string[],
		rows: readonly (readonly unknown[])[],
		otherwise = "",
	): Promise<number> {
		if (rows.length === 0) return 0;
		const list = columns.join(",");
		const text = `INSERT INTO ${table} (${list}) SELECT ${list} FROM json_populate_recordset(NULL::${table}, $1) ${otherwise}`;
		const kept = this.sealing ? this.sealing.rows(table, columns, rows) : rows;
		return (await this.answer(text, [recordsOf(columns, kept)], insertNamed(text))).rowCount ?? 0;
	}

	async each(statement: string, lists: readonly (readonly unknown[])[]): Promise<number[]> {
		const at: number[] = [];
		for (const [i, list] of lists.entries()) if ((await this.affected(statement, list)) > 0) at.push(i);
		return at;
	}

	private asKept(statement: string, parameters: readonly unknown[]): readonly unknown[] {
		return this.sealing ? this.sealing.parameters(statement, parameters) : parameters;
	}

	/**
	 * @param name under which the connection keeps the statement; none: it is planned anew each time, as is right where the plan
	 * depends on how large the tables have become
	 */
	private async answer(text: string, values: readonly unknown[], name?: string): Promise<Answer> {
		const connection = (await this.runner.connect()) as Connection;
		return connection.query({ name, text, values, rowMode: "array" });
	}
}

/** @returns a JSON list of objects, as PostgreSQL's json functions take many rows in one parameter */
export function recordsOf(columns: readonly string[], rows: readonly (readonly unknown[])[]): string {
	const keys = columns.map((column) => `${JSON.stringify(column)}:`);
	const record = (row: readonly unknown[]) => `{${keys.map((key, i) => key + JSON.stringify(row[i] ?? null)).join(",")}}`;
	return `[${rows.map(record).join(",")}]`;
}

const inserts = new Map<string, string>();

function insertNamed(text: string): string {
	const known = inserts.get(text) ?? `insert ${inserts.size + 1}`;
	inserts.set(text, known);
	return known;
}
