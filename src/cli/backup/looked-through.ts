import { migrations } from "../../../migrations/index.js";
import { InputError } from "../../errors/errors.js";
import type { Head } from "../../ledger/chain.js";
import { verifyLedger } from "../../ledger/verify.js";
import { withSqliteFile } from "../../store/sqlite-file.js";
import type { Statements } from "../../store/statements.js";

/** What lies in a file that was found to be whole. */
export interface LookedThrough {
	readonly people: number;
	readonly messages: number;
	readonly entries: number;
	/** Of the ledger; none: the file is of a release that had no chain yet. */
	readonly head: Head | undefined;
}

/**
 * Looks through a whole database file: its pages, its references, its steps, its ledger.
 * @throws InputError `database-unsafe` that names what isn't whole; `database-newer` where a later release made it
 */
export async function lookedThrough(path: string, outside: Parameters<typeof verifyLedger>[2] = []): Promise<LookedThrough> {
	try {
		return await withSqliteFile(path, (on) => look(on, path, outside));
	} catch (cause) {
		const { code = "" } = cause as { code?: string };
		if (!/^SQLITE_(NOTADB|CORRUPT|CANTOPEN)/.test(code)) throw cause;
		throw notWhole(path, (cause as Error).message, cause);
	}
}

async function look(on: Statements, path: string, outside: Parameters<typeof verifyLedger>[2]): Promise<LookedThrough> {
	const pages = await on.query<{ integrityCheck: string }>("PRAGMA integrity_check");
	if (pages[0]?.integrityCheck !== "ok") throw notWhole(path, pages.map(({ integrityCheck }) => integrityCheck).join("; "));
	const strays = await on.query<{ table: string; parent: string }>("PRAGMA foreign_key_check");
	if (strays.length > 0)
		throw notWhole(
			path,
			`${strays.length} rows name something that isn't there, the first in ${strays[0]?.table} of ${strays[0]?.parent}`,
		);
	if (!(await has(on, "migration"))) throw notWhole(path, "it is no database of this program");
	const steps = await on.query<{ name: string }>("SELECT name FROM migration ORDER BY id");
	const known = new Set(migrations.map(({ name }) => name));
	const strange = steps.find(({ name }) => !known.has(name));
	if (strange)
		throw new InputError(
			"database-newer",
			`${path} was made by a later release (step ${strange.name} is unknown here). Use that release.`,
		);
	const verification = (await has(on, "ledger_seal")) ? await verifyLedger(on, 1, outside) : undefined;
	const [finding] = verification?.findings ?? [];
	if (finding) throw notWhole(path, `its ledger: ${finding.kind}: ${finding.message}`);
	return {
		people: await count(on, "person"),
		messages: await count(on, "message"),
		entries: await count(on, "ledger_entry"),
		head: verification?.head,
	};
}

function notWhole(path: string, what: string, cause?: unknown): InputError {
	return new InputError("database-unsafe", `${path} isn't whole: ${what}.`, { cause });
}

async function has(on: Statements, table: string): Promise<boolean> {
	return (await on.query("SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = $1", [table])).length > 0;
}

async function count(on: Statements, table: string): Promise<number> {
	return (await on.query<{ n: number }>(`SELECT count(*) AS n FROM ${table}`))[0]?.n ?? 0;
}
