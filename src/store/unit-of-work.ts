import { AsyncLocalStorage } from "node:async_hooks";
import type { DataSource, EntityManager, QueryRunner } from "typeorm";
import { DefectError, TransientError } from "../errors/errors.js";
import { PostgresStatements } from "./postgres-statements.js";
import type { PostgresSealing } from "./sealing/postgres-sealing.js";
import type { Sealing } from "./sealing/sealing.js";
import { SqliteStatements } from "./sqlite-statements.js";
import type { Statements } from "./statements.js";

/** What one unit of work may use: everything that is written through it is kept together or not at all. */
export interface Transaction extends Statements {
	readonly manager: EntityManager;
	/** Runs once the work is kept for good; never when it is rolled back. It must not throw. */
	afterCommit(action: () => void): void;
}

/**
 * The only way to write.
 * On SQLite there is one connection, and two transactions on it would interleave, so units of work wait in a queue;
 * one that is started inside another joins it. On PostgreSQL units run side by side and a serialisation failure is tried again.
 */
export class UnitOfWork {
	private readonly current = new AsyncLocalStorage<OpenTransaction>();
	private tail: Promise<unknown> = Promise.resolve();

	private readonly sqlite: SqliteStatements | undefined;

	/** @param sealing what seals and opens values on their way; none: they rest and are read as they are */
	constructor(
		private readonly writer: DataSource,
		private readonly sealing?: Sealings,
	) {
		this.sqlite = writer.options.type === "postgres" ? undefined : new SqliteStatements(writer, sealing?.sqlite);
	}

	get kind(): Transaction["kind"] {
		return this.sqlite ? "sqlite" : "postgres";
	}

	/** @returns what the work returns, once it is kept; throws what the work throws, with nothing kept */
	async run<T>(work: (tx: Transaction) => Promise<T>): Promise<T> {
		const outer = this.current.getStore();
		if (outer?.open) return work(outer);
		return this.sqlite ? this.queued(work) : this.retried(() => this.once(work));
	}

	/** @returns the unit of work in which the caller is; none outside of one */
	joined(): Transaction | undefined {
		const current = this.current.getStore();
		return current?.open ? current : undefined;
	}

	private queued<T>(work: (tx: Transaction) => Promise<T>): Promise<T> {
		const turn = this.tail.then(() => this.once(work));
		this.tail = turn.catch(() => undefined);
		return turn;
	}

	private async retried<T>(once: () => Promise<T>): Promise<T> {
		for (let tried = 1; ; tried++) {
			try {
				return await once();
			} catch (error) {
				if (tried >= 5 || !TRY_AGAIN.has(sqlState(error))) throw asTransient(error);
			}
		}
	}

	/**
	 * Writes by one statement, which is kept or not by itself: on PostgreSQL that saves the ways to the server for begin and end.
	 * @returns its rows
	 */
	async single<T extends object>(statement: string, parameters: readonly unknown[]): Promise<T[]> {
		if (this.sqlite || this.current.getStore()?.open) return this.run((tx) => tx.query<T>(statement, parameters));
		return this.retried(async () => {
			const runner = this.writer.createQueryRunner();
			try {
				return await new PostgresStatements(runner, this.sealing?.postgres).query<T>(statement, parameters);
			} finally {
				await runner.release();
			}
		});
	}

	private async once<T>(work: (tx: Transaction) => Promise<T>): Promise<T> {
		const runner = this.writer.createQueryRunner();
		const afterwards: (() => void)[] = [];
		const statements = this.sqlite ?? new PostgresStatements(runner, this.sealing?.postgres);
		const tx: OpenTransaction = {
			kind: statements.kind,
			manager: runner.manager,
			query: (statement, parameters) => statements.query(statement, parameters),
			affected: (statement, parameters) => statements.affected(statement, parameters),
			insert: (table, columns, rows, otherwise) => statements.insert(table, columns, rows, otherwise),
			each: (statement, lists) => statements.each(statement, lists),
			afterCommit: (action) => void afterwards.push(action),
			open: true,
		};
		let isCommitting = false;
		try {
			await begin(statements, runner);
			const result = await this.current.run(tx, () => work(tx));
			isCommitting = true;
			await commit(statements, runner);
			tx.open = false;
			for (const action of afterwards) action();
			return result;
		} catch (error) {
			tx.open = false;
			await rollback(statements, runner);
			if (this.sqlite) throw asTransient(error);
			throw isCommitting && isAway(error) ? perhapsKept(error) : error;
		} finally {
			await runner.release();
		}
	}
}

/** The one of the database's kind. */
export interface Sealings {
	readonly sqlite?: Sealing;
	readonly postgres?: PostgresSealing;
}

interface OpenTransaction extends Transaction {
	/** False once it has ended: what was started inside it and outlives it must not join it. */
	open: boolean;
}

async function begin(statements: Statements, runner: QueryRunner): Promise<void> {
	if (statements.kind === "postgres") return runner.startTransaction();
	// The driver's own BEGIN is deferred: a read that turns into a write could then fail at once, whatever the time-out.
	await statements.affected("BEGIN IMMEDIATE");
	markActive(runner, true);
}

async function commit(statements: Statements, runner: QueryRunner): Promise<void> {
	if (statements.kind === "postgres") return runner.commitTransaction();
	await statements.affected("COMMIT");
	markActive(runner, false);
}

/** The ORM must know that a transaction is open, or it would try to begin one of its own for each save. */
function markActive(runner: QueryRunner, active: boolean): void {
	(runner as { isTransactionActive: boolean }).isTransactionActive = active;
}

async function rollback(statements: Statements, runner: QueryRunner): Promise<void> {
	try {
		if (!runner.isTransactionActive) return;
		if (statements.kind === "postgres") return await runner.rollbackTransaction();
		markActive(runner, false);
		await statements.affected("ROLLBACK");
	} catch {
		// The database has already ended the transaction by itself (disk full, connection lost): nothing is kept either way.
	}
}

/** Serialisation failure and deadlock (PostgreSQL manual, appendix A). */
const TRY_AGAIN = new Set(["40001", "40P01"]);
/** Of PostgreSQL and of SQLite. */
const DISK_FULL = new Set(["53100", "SQLITE_FULL"]);
/** Connection lost, too many connections, shutting down; a time of the server's that was up. */
const FOR_NOW = /^(08|53|57P|57014|25P03|55P03)/;
/** Nobody there, or the way to them gone. */
const NO_WAY = /^(ECONN|ETIMEDOUT|EPIPE|EHOST|ENET|ENOTFOUND|EAI_AGAIN)/;
/** What the driver and the ORM say, without a code, of a connection that is gone or couldn't be made in time. */
const GONE =
	/^(Connection terminated|timeout exceeded when trying to connect|timeout expired|Query read timeout|Client has encountered a connection error|Client was closed|Query runner already released)/i;

function sqlState(error: unknown): string {
	const code =
		(error as { code?: unknown; driverError?: { code?: unknown } })?.driverError?.code ?? (error as { code?: unknown })?.code;
	return typeof code === "string" ? code : "";
}

/** @returns whether a row was refused because another, written at the same moment, has the same value in a unique index */
export function isTaken(error: unknown, index: string): boolean {
	const wrapped = error as { driverError?: { code?: string; constraint?: string } };
	const cause = wrapped?.driverError ?? (error as { code?: string; constraint?: string });
	return cause?.code === "23505" && cause.constraint === index;
}

/** @returns whether the database can't be reached only for now */
function isAway(error: unknown): boolean {
	const code = sqlState(error);
	if (DISK_FULL.has(code)) return false;
	if (code) return FOR_NOW.test(code) || NO_WAY.test(code) || /^SQLITE_(BUSY|IOERR)/.test(code);
	return GONE.test(String((error as { message?: unknown } | undefined)?.message));
}

/** @returns the error itself, or a TransientError around it where the database is only away for now */
export function asTransient(error: unknown): unknown {
	if (error instanceof TransientError) return error;
	if (DISK_FULL.has(sqlState(error)))
		return new TransientError(
			"disk-full",
			"The disk on which the database lies is full. Nothing was changed; once somebody has made room, the same works again.",
			{ cause: error },
		);
	if (!isAway(error)) return error;
	return new TransientError("database-busy", "The database can't be reached at the moment. Nothing was changed; try again.", {
		cause: error,
	});
}

/** The answer to a commit was lost: whoever asks again under the same key learns what has become of it. */
function perhapsKept(error: unknown): TransientError {
	return new TransientError(
		"database-busy",
		"The database was lost while it kept the change, and may have kept it or not. Look before you ask again; with the same Idempotency-Key nothing is done twice.",
		{ cause: error },
	);
}

/** @returns the only row; @throws DefectError where there is none */
export function only<T>(rows: readonly T[]): T {
	const row = rows[0];
	if (row === undefined) throw new DefectError("a row that must be there is missing");
	return row;
}
