import { mkdirSync } from "node:fs";
import { dirname } from "node:path";
import { DataSource, type DataSourceOptions } from "typeorm";
import { DefectError, InputError } from "../errors/errors.js";
import { SnakeCase } from "./columns.js";
import { PostgresStatements } from "./postgres-statements.js";
import type { Row } from "./sql.js";
import { SqliteStatements } from "./sqlite-statements.js";
import { asTransient, type Transaction, UnitOfWork } from "./unit-of-work.js";

type Entities = DataSourceOptions["entities"];
type Migrations = DataSourceOptions["migrations"];

/** Where the database is and what it holds. */
export interface StoreOptions {
	/** A SQLite file, or a `postgres://` address. */
	readonly location: string;
	readonly entities: Entities;
	readonly migrations: Migrations;
	/** PostgreSQL only: connections at most. */
	readonly connections?: number;
}

/**
 * The database: units of work to write, plain statements to read.
 * On SQLite reads have a connection of their own, so that nobody sees what another may still roll back.
 */
export class Store {
	readonly work: UnitOfWork;
	private readonly sqliteReads: SqliteStatements | undefined;

	private constructor(
		readonly kind: Transaction["kind"],
		readonly writer: DataSource,
		private readonly reader: DataSource,
	) {
		this.work = new UnitOfWork(writer);
		this.sqliteReads = kind === "sqlite" ? new SqliteStatements(reader) : undefined;
	}

	/**
	 * Opens the database, checks that it is safe to use, and brings its schema up to date.
	 * @throws InputError `database-newer` when a later release has been at work in it; DefectError when a safety setting didn't hold
	 */
	static async open(options: StoreOptions): Promise<Store> {
		return /^postgres(ql)?:/.test(options.location) ? openPostgres(options, Store.of) : openSqlite(options, Store.of);
	}

	private static of(kind: Transaction["kind"], writer: DataSource, reader: DataSource): Store {
		return new Store(kind, writer, reader);
	}

	/** Runs one reading statement with `$1`, `$2`...; inside a unit of work it sees what that has written. @returns rows in camel case */
	async query<T extends object = Row>(statement: string, parameters: readonly unknown[] = []): Promise<T[]> {
		const joined = this.work.joined();
		if (joined) return joined.query<T>(statement, parameters);
		const runner = this.reader.createQueryRunner();
		try {
			return await (this.sqliteReads ?? new PostgresStatements(runner)).query<T>(statement, parameters);
		} catch (error) {
			throw asTransient(error);
		} finally {
			await runner.release();
		}
	}

	async close(): Promise<void> {
		if (this.reader !== this.writer && this.reader.isInitialized) await this.reader.destroy();
		if (this.writer.isInitialized) await this.writer.destroy();
	}
}

type Make = (kind: Transaction["kind"], writer: DataSource, reader: DataSource) => Store;

async function openSqlite(options: StoreOptions, make: Make): Promise<Store> {
	mkdirSync(dirname(options.location), { recursive: true });
	const common = { type: "better-sqlite3", database: options.location, namingStrategy: new SnakeCase() } as const;
	const writer = new DataSource({
		...common,
		entities: options.entities,
		migrations: options.migrations,
		migrationsTableName: "migration",
		prepareDatabase: (file: Pragmas) => {
			// WAL is built with synchronous=NORMAL: what was acknowledged could be lost with the power.
			file.pragma("journal_mode = WAL");
			file.pragma("synchronous = FULL");
			file.pragma("busy_timeout = 1000");
			file.pragma("foreign_keys = ON");
		},
	});
	await writer.initialize();
	try {
		await refuseNewer(writer);
		await writer.runMigrations({ transaction: "each" });
		await assertPragmas(writer);
	} catch (error) {
		// After a failed migration foreign keys may still be off on this connection: it is not to be used any more.
		await writer.destroy();
		throw error;
	}
	const reader = new DataSource({
		...common,
		readonly: true,
		prepareDatabase: (file: Pragmas) => void file.pragma("busy_timeout = 1000"),
	});
	await reader.initialize();
	return make("sqlite", writer, reader);
}

interface Pragmas {
	pragma(statement: string): unknown;
}

async function assertPragmas(writer: DataSource): Promise<void> {
	const wanted = { journal_mode: "wal", synchronous: 2, foreign_keys: 1 } as const;
	for (const [name, value] of Object.entries(wanted)) {
		const [row] = (await writer.query(`PRAGMA ${name}`)) as Record<string, unknown>[];
		if (row?.[name] !== value) throw new DefectError(`SQLite doesn't hold ${name}=${value}; the file system may not allow it`);
	}
}

/** Two starters at once would both try to make the schema: the second waits for the first. Any fixed number serves. */
const MIGRATION_LOCK = 7_521_904;

async function openPostgres(options: StoreOptions, make: Make): Promise<Store> {
	const source = new DataSource({
		type: "postgres",
		url: options.location,
		entities: options.entities,
		migrations: options.migrations,
		migrationsTableName: "migration",
		namingStrategy: new SnakeCase(),
		parseInt8: true,
		applicationName: "jarwatch",
		poolSize: options.connections ?? 10,
		connectTimeoutMS: 10_000,
	});
	await source.initialize();
	const runner = source.createQueryRunner();
	try {
		await runner.query("SELECT pg_advisory_lock($1)", [MIGRATION_LOCK]);
		try {
			await refuseNewer(source);
			await source.runMigrations({ transaction: "each" });
		} finally {
			await runner.query("SELECT pg_advisory_unlock($1)", [MIGRATION_LOCK]);
		}
	} catch (error) {
		await runner.release();
		await source.destroy();
		throw error;
	}
	await runner.release();
	return make("postgres", source, source);
}

/** A database that a later release has changed would be misread: better not to start. */
async function refuseNewer(source: DataSource): Promise<void> {
	const runner = source.createQueryRunner();
	try {
		if (!(await runner.hasTable("migration"))) return;
		const known = new Set(source.migrations.map((migration) => migration.name));
		const rows = (await runner.query("SELECT name FROM migration ORDER BY id")) as { name: string }[];
		const strange = rows.find(({ name }) => !known.has(name));
		if (strange)
			throw new InputError(
				"database-newer",
				`The database has been changed by a later release (step ${strange.name} is unknown here). Start that release, or restore a backup.`,
			);
	} finally {
		await runner.release();
	}
}
