import { mkdirSync } from "node:fs";
import { statfs } from "node:fs/promises";
import { dirname } from "node:path";
import { DataSource, type DataSourceOptions } from "typeorm";
import { DefectError, InputError } from "../errors/errors.js";
import { SnakeCase } from "./columns.js";
import { PostgresStatements } from "./postgres-statements.js";
import type { Keyring } from "./sealing/keyring.js";
import { PostgresSealing } from "./sealing/postgres-sealing.js";
import { sealedColumnsOf } from "./sealing/sealed-columns.js";
import { Sealing } from "./sealing/sealing.js";
import { takenUp } from "./sealing/taking-up.js";
import type { Row } from "./sql.js";
import { SqliteStatements } from "./sqlite-statements.js";
import { asTransient, type Sealings, type Transaction, UnitOfWork } from "./unit-of-work.js";

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
	/** PostgreSQL only: how long a connection or an answer is waited for before it is asked whether it will come; left out: 10 s. */
	readonly patienceMs?: number;
	/** Under which personal values rest; none: nothing is sealed, which is only for looking at a schema. */
	readonly keys?: Keyring;
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
		private readonly sealings: Sealings,
		/** How many values were sealed, or sealed anew, when it was opened. */
		readonly newlySealed: number,
	) {
		this.work = new UnitOfWork(writer, sealings);
		this.sqliteReads = kind === "sqlite" ? new SqliteStatements(reader, sealings.sqlite) : undefined;
	}

	/**
	 * Opens the database, checks that it is safe to use, and brings its schema up to date.
	 * @throws InputError `database-newer` when a later release has been at work in it; DefectError when a safety setting didn't hold
	 */
	static async open(options: StoreOptions): Promise<Store> {
		return /^postgres(ql)?:/.test(options.location) ? openPostgres(options, Store.of) : openSqlite(options, Store.of);
	}

	private static of(...parts: Parameters<Make>): Store {
		return new Store(...parts);
	}

	/** Those under which personal values rest. */
	get keys(): Keyring {
		return this.sealing.keys;
	}

	get sealing(): Sealing {
		const sealing = this.sealings.sqlite ?? this.sealings.postgres?.sealing;
		if (!sealing) throw new DefectError("the database was opened without keys");
		return sealing;
	}

	/** Runs one reading statement with `$1`, `$2`...; inside a unit of work it sees what that has written. @returns rows in camel case */
	async query<T extends object = Row>(statement: string, parameters: readonly unknown[] = []): Promise<T[]> {
		const joined = this.work.joined();
		if (joined) return joined.query<T>(statement, parameters);
		const runner = this.reader.createQueryRunner();
		try {
			return await (this.sqliteReads ?? new PostgresStatements(runner, this.sealings.postgres)).query<T>(statement, parameters);
		} catch (error) {
			throw asTransient(error);
		} finally {
			await runner.release();
		}
	}

	/** @returns bytes that are left on the disk of a SQLite file; none where a server keeps the database, which knows its own disk */
	async roomLeftBytes(): Promise<number | undefined> {
		if (this.kind !== "sqlite") return undefined;
		const { bavail, bsize } = await statfs(dirname(String(this.writer.options.database)));
		return bavail * bsize;
	}

	async close(): Promise<void> {
		if (this.reader !== this.writer && this.reader.isInitialized) await this.reader.destroy();
		if (this.writer.isInitialized) await this.writer.destroy();
	}
}

type Make = (kind: Transaction["kind"], writer: DataSource, reader: DataSource, sealings: Sealings, newlySealed: number) => Store;

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
			// What was erased, or sealed in its place, must not lie on in the file.
			file.pragma("secure_delete = ON");
		},
	});
	await writer.initialize();
	const sealing = options.keys && new Sealing(options.keys, sealedColumnsOf(writer));
	let newlySealed = 0;
	try {
		await refuseNewer(writer);
		await writer.runMigrations({ transaction: "each" });
		await assertPragmas(writer);
		if (sealing) newlySealed = await takenUp(writer, sealing);
		// What a statement would undo is kept in memory, not in a file beside: a sweep's took a sixth of its time. Only from here on: what was
		// done before may be as large as the file itself.
		await writer.query("PRAGMA temp_store = MEMORY");
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
	return make("sqlite", writer, reader, sealing ? { sqlite: sealing } : {}, newlySealed);
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

const PATIENCE_MS = 10_000;
/** No statement of this program takes so long, an index over millions of rows included. */
const LONGEST_STATEMENT_MS = 3_600_000;
/** Between two statements of a unit of work nothing is waited for: whoever is silent for so long has gone. */
const LONGEST_PAUSE_MS = 60_000;
/** A line that is quiet for so long is tried by the operating system. */
const QUIET_MS = 10_000;
/** The server finds out in a minute that this program has gone without a word, and lets go of what it had locked. */
const SERVER_LOOKS = "-c tcp_keepalives_idle=30 -c tcp_keepalives_interval=10 -c tcp_keepalives_count=3";

/** Two starters at once would both try to make the schema: the second waits for the first. Any fixed number serves. */
const MIGRATION_LOCK = 7_521_904;

async function openPostgres(options: StoreOptions, make: Make): Promise<Store> {
	const patienceMs = options.patienceMs ?? PATIENCE_MS;
	// Only here: whoever has SQLite needn't wait for the driver to be read.
	const { WatchedClient } = await import("./watched-client.js");
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
		connectTimeoutMS: patienceMs,
		extra: {
			Client: WatchedClient,
			patienceMs,
			keepAlive: true,
			keepAliveInitialDelayMillis: QUIET_MS,
			statement_timeout: LONGEST_STATEMENT_MS,
			idle_in_transaction_session_timeout: LONGEST_PAUSE_MS,
			options: SERVER_LOOKS,
		},
	});
	try {
		await source.initialize();
	} catch (error) {
		throw asTransient(error);
	}
	const runner = source.createQueryRunner();
	let postgres: PostgresSealing | undefined;
	let newlySealed = 0;
	try {
		await runner.query("SELECT pg_advisory_lock($1)", [MIGRATION_LOCK]);
		try {
			await refuseNewer(source);
			await source.runMigrations({ transaction: "each" });
			postgres = options.keys && (await PostgresSealing.for(source, options.keys));
			if (postgres) newlySealed = await takenUp(source, postgres.sealing);
		} finally {
			await runner.query("SELECT pg_advisory_unlock($1)", [MIGRATION_LOCK]);
		}
	} catch (error) {
		await runner.release();
		await source.destroy();
		throw asTransient(error);
	}
	await runner.release();
	return make("postgres", source, source, postgres ? { postgres } : {}, newlySealed);
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
