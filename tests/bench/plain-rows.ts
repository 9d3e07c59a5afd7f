import { performance } from "node:perf_hooks";
import Sqlite from "better-sqlite3";
import { Client } from "pg";
import { snakeCase } from "../../src/store/columns.js";
import type { Store } from "../../src/store/store.js";
import type { DatabaseKind } from "../support/stores.js";

/** As many tasks in one transaction as the sweep opens in one. */
const PAGE = 500;

const WRITTEN_AT = { task: "opened_at_ms", message: "created_at_ms", ledger_entry: "at_ms" } as const;
type Table = keyof typeof WRITTEN_AT;
const TABLES = Object.keys(WRITTEN_AT) as Table[];

export type Rows = Readonly<Record<Table, { readonly columns: readonly string[]; readonly rows: readonly unknown[][] }>>;

/** The very rows that a sweep wrote. */
export async function rowsSince(store: Store, sinceMs: number): Promise<Rows> {
	const tables = TABLES.map(async (table) => {
		const rows = await store.query(`SELECT * FROM ${table} WHERE ${WRITTEN_AT[table]} >= $1 ORDER BY id`, [sinceMs]);
		const names = Object.keys(rows[0] ?? {}).filter((name) => rows.some((row) => row[name] !== null));
		return [table, { columns: names.map(snakeCase), rows: rows.map((row) => names.map((name) => row[name])) }] as const;
	});
	return Object.fromEntries(await Promise.all(tables)) as unknown as Rows;
}

export interface PlainWriter {
	/** Milliseconds that writing them took. */
	writeMs(written: Rows): Promise<number>;
	close(): Promise<void>;
}

/**
 * The floor of a sweep: writes the very rows that the sweep wrote into a twin of its database, in the driver's own words. The same
 * inserts into the same tables with the same indices and foreign keys, the same due instants taken away, as many in one transaction,
 * the same durability, statements prepared once. It reads nothing, decides nothing and makes no value.
 */
export function plainWriter(kind: DatabaseKind, location: string): Promise<PlainWriter> {
	return kind === "sqlite" ? onSqlite(location) : onPostgres(location);
}

const pages = ({ task }: Rows): number[] => Array.from({ length: Math.ceil(task.rows.length / PAGE) }, (_, i) => i * PAGE);

/** Kind and subject of each task: what its due instant is found by. */
const subjects = ({ task: { columns, rows } }: Rows): unknown[][] => {
	const [kind, subject] = [columns.indexOf("kind"), columns.indexOf("subject_id")];
	return rows.map((row) => [row[kind], row[subject]]);
};

async function onSqlite(location: string): Promise<PlainWriter> {
	const file = new Sqlite(location);
	file.pragma("synchronous = FULL");
	file.pragma("foreign_keys = ON");
	const prepared = new Map<string, Sqlite.Statement>();
	const run = (text: string, values: unknown[]) => {
		const statement = prepared.get(text) ?? file.prepare(text);
		prepared.set(text, statement);
		statement.run(values);
	};
	return {
		async writeMs(written) {
			const due = subjects(written);
			const inserts = TABLES.map((table) => {
				const { columns, rows } = written[table];
				return { rows, text: `INSERT INTO ${table} (${columns}) VALUES (${columns.map(() => "?")})` };
			});
			const began = performance.now();
			for (const from of pages(written)) {
				run("BEGIN IMMEDIATE", []);
				for (const { text, rows } of inserts) for (const row of rows.slice(from, from + PAGE)) run(text, row);
				for (const key of due.slice(from, from + PAGE))
					run("UPDATE due SET due_at_ms = NULL WHERE kind = ? AND subject_id = ?", key);
				run("COMMIT", []);
			}
			return performance.now() - began;
		},
		async close() {
			file.close();
		},
	};
}

async function onPostgres(location: string): Promise<PlainWriter> {
	const client = new Client({ connectionString: location });
	await client.connect();
	return {
		async writeMs(written) {
			const due = subjects(written);
			const inserts = TABLES.map((table) => {
				const { columns, rows } = written[table];
				const values = Array.from({ length: PAGE }, (_, r) => `(${columns.map((_, c) => `$${r * columns.length + c + 1}`)})`);
				return { name: table, rows, text: `INSERT INTO ${table} (${columns}) VALUES ${values}` };
			});
			const began = performance.now();
			for (const from of pages(written)) {
				await client.query("BEGIN");
				for (const { name, text, rows } of inserts)
					await client.query({ name, text, values: rows.slice(from, from + PAGE).flat() });
				const page = due.slice(from, from + PAGE);
				await client.query({
					name: "due",
					text: "UPDATE due SET due_at_ms = NULL WHERE kind = $1 AND subject_id = ANY($2)",
					values: [page[0]?.[0], page.map(([, subject]) => subject)],
				});
				await client.query("COMMIT");
			}
			return performance.now() - began;
		},
		close: () => client.end(),
	};
}
