import { randomBytes } from "node:crypto";
import { mkdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { InputError } from "../../errors/errors.js";
import { DATA_KEY_RIGHT, isDataKey } from "../../settings/data-key.js";

/** Where the key lies that nobody configured. */
export interface KeyFile {
	readonly path: string;
	readonly key: string;
	/** It wasn't there. */
	readonly isNew: boolean;
	/** Takes a new one away again: the database turned out to have another key. */
	takeBack(): void;
}

/**
 * Reads the key that lies beside the database, or makes one that only this program's user may read.
 * @throws InputError `settings-refused` where the file holds no key
 */
export function keyFileIn(folder: string): KeyFile {
	const path = join(folder, "data.key");
	mkdirSync(folder, { recursive: true });
	const made = randomBytes(32).toString("base64");
	const isNew = written(path, made);
	const key = isNew ? made : readFileSync(path, "utf8").trim();
	if (!isDataKey(key))
		throw new InputError("settings-refused", `${path} ${DATA_KEY_RIGHT}; it holds something else. Put the right file there.`);
	return { path, key, isNew, takeBack: () => isNew && rmSync(path, { force: true }) };
}

/** @returns false where there is a file already */
function written(path: string, text: string): boolean {
	try {
		writeFileSync(path, `${text}\n`, { flag: "wx", mode: 0o600, flush: true });
		return true;
	} catch (error) {
		if ((error as NodeJS.ErrnoException).code === "EEXIST") return false;
		throw error;
	}
}
