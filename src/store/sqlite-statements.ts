import type { DataSource } from "typeorm";
import { camelCase } from "./columns.js";
import type { SealedColumn } from "./sealing/sealed-columns.js";
import type { Sealing } from "./sealing/sealing.js";
import { placeholders, unnumbered } from "./sql.js";
import { namedRows, type Statements } from "./statements.js";

/** As much of the driver's connection as is used here. */
interface Connection {
	prepare(text: string): Run;
}

interface Run {
	readonly reader: boolean;
	raw(): Run;
	columns(): { readonly name: string; readonly column: string | null; readonly table: string | null }[];
	all(values: readonly unknown[]): unknown[][];
	run(values: readonly unknown[]): { readonly changes: number };
}

interface Known {
	readonly run: Run;
	/** Which parameter stands at each `?`. */
	readonly order: readonly number[];
	/** Of the columns that it answers with; none: it answers with no rows. */
	readonly names: readonly string[] | undefined;
	/** The sealed column that each comes from; none: none of them does. */
	readonly sealed: readonly (SealedColumn | undefined)[] | undefined;
}

const MOST_KEPT = 200;

/**
 * Statements on SQLite's own connection. Each text is prepared once and kept: the way through the ORM costs more than a short
 * statement itself. Rows are added by a short statement each, which takes half the time of one long statement for all of them.
 */
export class SqliteStatements implements Statements {
	readonly kind = "sqlite";
	private readonly known = new Map<string, Known>();
	private readonly connection: Connection;

	constructor(
		source: DataSource,
		private readonly sealing?: Sealing,
	) {
		this.connection = (source.driver as unknown as { databaseConnection: Connection }).databaseConnection;
	}

	async query<T extends object>(statement: string, parameters: readonly unknown[] = []): Promise<T[]> {
		const { run, order, names, sealed } = this.prepared(statement);
		const values = bound(order, this.asKept(statement, parameters));
		if (names) {
			const rows = run.all(values);
			if (sealed) this.sealing?.open(sealed, rows);
			return namedRows<T>(names, rows);
		}
		run.run(values);
		return [];
	}

	async affected(statement: string, parameters: readonly unknown[] = []): Promise<number> {
		return touched(this.prepared(statement), this.asKept(statement, parameters));
	}

	async insert(
		table: string,
		columns: readonly string[],
		rows: readonly (readonly unknown[])[],
		otherwise = "",
	): Promise<number> {
		const text = `INSERT INTO ${table} (${columns.join(",")}) VALUES (${placeholders(columns.length)}) ${otherwise}`;
		return (await this.each(text, rows)).length;
	}

	async each(statement: string, lists: readonly (readonly unknown[])[]): Promise<number[]> {
		const known = this.prepared(statement);
		const at: number[] = [];
		for (let i = 0; i < lists.length; i++) if (touched(known, this.asKept(statement, lists[i]!)) > 0) at.push(i);
		return at;
	}

	private asKept(statement: string, parameters: readonly unknown[]): readonly unknown[] {
		return this.sealing ? this.sealing.parameters(statement, parameters) : parameters;
	}

	private prepared(statement: string): Known {
		const known = this.known.get(statement);
		if (known) return known;
		const { text, order } = unnumbered(statement);
		const run = this.connection.prepare(text);
		const columns = run.reader ? run.raw().columns() : undefined;
		const names = columns?.map(({ name }) => camelCase(name));
		const from = columns?.map(({ table, column }) => this.sealing?.of(table, column));
		const made = { run, order, names, sealed: from?.some(Boolean) ? from : undefined };
		// Texts that grow with a list are many, and each is rare: the oldest makes room.
		if (this.known.size >= MOST_KEPT) this.known.delete(this.known.keys().next().value as string);
		this.known.set(statement, made);
		return made;
	}
}

function touched({ run, order, names }: Known, parameters: readonly unknown[]): number {
	const values = bound(order, parameters);
	return names ? run.all(values).length : run.run(values).changes;
}

/** The driver takes no booleans, no lists, and an absent value only as null. */
function bound(order: readonly number[], parameters: readonly unknown[]): unknown[] {
	const values: unknown[] = [];
	for (let i = 0; i < order.length; i++) {
		const value = parameters[order[i]!];
		values.push(typeof value === "boolean" ? Number(value) : Array.isArray(value) ? JSON.stringify(value) : (value ?? null));
	}
	return values;
}
