import { existsSync, rmSync } from "node:fs";
import { dirname, join, resolve } from "node:path";
import { InputError } from "../../errors/errors.js";
import type { Settings } from "../../settings/settings.js";
import { copySqlite, named } from "../../store/sqlite-file.js";
import { type LookedThrough, lookedThrough } from "./looked-through.js";

/** @returns where the settings' database lies. @throws InputError `settings-refused` where it isn't a SQLite file */
export function sqliteFileOf({ databaseUrl, dataFolder }: Pick<Settings, "databaseUrl" | "dataFolder">, instead: string): string {
	if (databaseUrl)
		throw new InputError("settings-refused", `JARWATCH_DATABASE_URL names a PostgreSQL database; this is for SQLite. ${instead}`);
	return resolve(dataFolder, "jarwatch.sqlite");
}

/**
 * Copies the database into a file beside the place where it shall lie, looks through the copy, and only then gives it its name.
 * @throws InputError where there is no database, where something has that name, or where the copy isn't whole
 */
export async function backedUp(database: string, file: string): Promise<LookedThrough> {
	const target = resolve(file);
	if (!existsSync(database))
		throw new InputError("unknown-subject", `There is no database at ${database}; JARWATCH_DATA_FOLDER names where it lies.`);
	if (existsSync(target))
		throw new InputError("conflict", `${target} is there already, and nothing is written over it. Give another name.`);
	if (!existsSync(dirname(target)))
		throw new InputError("invalid-input", `There is no folder ${dirname(target)}. Make it first.`);
	const beside = unfinished(target);
	try {
		copySqlite(database, beside);
		const found = await lookedThrough(beside);
		named(beside, target);
		return found;
	} finally {
		removed(beside);
	}
}

/** A name that says that the file isn't finished. */
export const unfinished = (target: string): string =>
	join(dirname(target), `.${target.slice(dirname(target).length + 1)}.unfinished-${process.pid}`);

/** A file with what a database may leave beside it. */
export function removed(path: string): void {
	for (const part of ["", "-wal", "-shm", "-journal"]) rmSync(path + part, { force: true });
}
