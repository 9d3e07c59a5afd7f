import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { brotliDecompressSync } from "node:zlib";
import BetterSqlite3 from "better-sqlite3";
import { DataSource } from "typeorm";
import { migrations } from "../../migrations/index.js";
import { valuesOf } from "../../src/store/sql.js";
import { type DatabaseKind, newDatabase, type TestDatabase } from "./stores.js";

/** When the last day of the released district ended. */
export const RELEASED_AT_MS = 1_795_618_000_000;

/** The last step of the schema that release 0.1.0 had. */
const LAST_STEP = 1764000007000;

/**
 * A database as release 0.1.0 left it: its own demonstration's invented district after three days, with plain names and numbers. Older doses
 * were taken out to keep the file small; nothing else was touched.
 * For PostgreSQL the same rows are put into the schema that the steps of that release make there.
 */
export async function releasedDatabase(kind: DatabaseKind): Promise<TestDatabase> {
	const file = brotliDecompressSync(readFileSync(join(__dirname, "..", "fault", "release", "district-0.1.0.sqlite.br")));
	const database = await newDatabase(kind);
	if (kind === "sqlite") writeFileSync(database.location, file);
	else {
		// A database in memory can't be in write-ahead mode: bytes 18 and 19 say 1 instead of 2 (SQLite, "Database File Format", 1.3.3).
		await putIntoPostgres(new BetterSqlite3(file.fill(1, 18, 20)), database.location);
	}
	return database;
}

async function putIntoPostgres(from: BetterSqlite3.Database, url: string): Promise<void> {
	const steps = migrations.filter((step) => Number(step.name.slice(-13)) <= LAST_STEP);
	const to = new DataSource({ type: "postgres", url, migrations: steps, migrationsTableName: "migration" });
	await to.initialize();
	try {
		await to.runMigrations({ transaction: "all" });
		const runner = to.createQueryRunner();
		// Rows come table by table, and not in the order of their references.
		await runner.query("SET session_replication_role = replica");
		for (const { name } of from
			.prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
			.all() as {
			name: string;
		}[]) {
			if (name === "migration") continue;
			const columns: { column_name: string; data_type: string }[] = await runner.query(
				"SELECT column_name, data_type FROM information_schema.columns WHERE table_name = $1",
				[name],
			);
			const rows = from
				.prepare(`SELECT ${columns.map(({ column_name }) => column_name).join(",")} FROM ${name}`)
				.raw()
				.all() as unknown[][];
			for (let at = 0; at < rows.length; at += 200) {
				const { text, parameters } = valuesOf(
					rows
						.slice(at, at + 200)
						.map((row) => row.map((value, i) => (columns[i]?.data_type === "boolean" ? value === 1 : value))),
				);
				await runner.query(
					`INSERT INTO ${name} (${columns.map(({ column_name }) => column_name).join(",")}) VALUES ${text}`,
					parameters,
				);
			}
		}
		await runner.release();
	} finally {
		await to.destroy();
		from.close();
	}
}
