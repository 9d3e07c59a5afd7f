import { closeSync, existsSync, fsyncSync, linkSync, openSync, renameSync, rmSync } from "node:fs";
import { dirname } from "node:path";
import BetterSqlite3 from "better-sqlite3";
import { DataSource } from "typeorm";
import { InputError } from "../errors/errors.js";
import { SqliteStatements } from "./sqlite-statements.js";
import type { Statements } from "./statements.js";

/** Reads a SQLite file as it lies there: no migration, no key, and nothing is written. */
export async function withSqliteFile<T>(path: string, work: (on: Statements) => Promise<T>): Promise<T> {
	const source = new DataSource({ type: "better-sqlite3", database: path, readonly: true, fileMustExist: true });
	await source.initialize();
	try {
		return await work(new SqliteStatements(source));
	} finally {
		await source.destroy();
	}
}

/**
 * Copies a database into a new file that only this program's user may read, while others go on writing. One reading transaction sees the
 * whole as it was at one instant, however much is written meanwhile; copying page by page would begin anew at each change.
 * @param into must not be there
 */
export function copySqlite(from: string, into: string): void {
	closeSync(openSync(into, "wx", 0o600));
	const source = new BetterSqlite3(from, { readonly: true, fileMustExist: true });
	try {
		source.prepare("VACUUM INTO ?").run(into);
	} finally {
		source.close();
	}
	flush(into);
}

/** Gives a finished file its name, all or nothing, and never over another. @throws InputError `conflict` where there is one */
export function named(path: string, name: string): void {
	try {
		linkSync(path, name);
		rmSync(path);
	} catch (cause) {
		if ((cause as NodeJS.ErrnoException).code === "EEXIST" || existsSync(name))
			throw new InputError("conflict", `${name} is there already, and nothing is written over it. Give another name.`, { cause });
		// A memory stick may know no second name for a file.
		renameSync(path, name);
	}
	flush(dirname(name));
}

/**
 * Puts a file in a database's place and keeps that database under another name. Nobody can open it meanwhile, and there is no moment
 * without a database.
 * @throws InputError `database-busy` where another process has it open
 */
export function swapSqlite(file: string, present: string, aside: string): void {
	if (!existsSync(present)) {
		named(file, present);
		return;
	}
	const held = heldAlone(present);
	try {
		// Beside a database that can be read there is nothing left; what lies beside a broken one belongs to it.
		for (const part of ["-wal", "-shm"]) if (existsSync(present + part)) renameSync(present + part, aside + part);
		try {
			linkSync(present, aside);
		} catch {
			renameSync(present, aside);
		}
		renameSync(file, present);
		flush(dirname(present));
	} finally {
		held?.close();
	}
}

/** @returns a connection that locks everybody out; none where the file is no database that could be opened by anybody */
function heldAlone(path: string): BetterSqlite3.Database | undefined {
	const file = new BetterSqlite3(path, { fileMustExist: true, timeout: 500 });
	try {
		// Only the last one who has it open may end the log beside it: in that mode each holds a share of the file as long as it is open.
		file.pragma("journal_mode = DELETE");
		file.exec("BEGIN EXCLUSIVE");
		return file;
	} catch (cause) {
		file.close();
		const { code = "" } = cause as { code?: string };
		if (/^SQLITE_(NOTADB|CORRUPT)/.test(code)) return undefined;
		if (code.startsWith("SQLITE_BUSY"))
			throw new InputError(
				"database-busy",
				`The service, or another program, has ${path} open. Stop every process of it, then do this again.`,
				{ status: 409, cause },
			);
		throw cause;
	}
}

function flush(path: string): void {
	const opened = openSync(path, "r");
	try {
		fsyncSync(opened);
	} finally {
		closeSync(opened);
	}
}
