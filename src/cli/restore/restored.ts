import { constants, copyFileSync, existsSync, mkdirSync } from "node:fs";
import { dirname, resolve } from "node:path";
import type { Logger } from "pino";
import { Withheld } from "../../duties/withheld.js";
import { InputError } from "../../errors/errors.js";
import type { Anchor } from "../../ledger/anchors.js";
import { record } from "../../ledger/ledger.js";
import { openedStore } from "../../opened-store.js";
import type { Settings } from "../../settings/settings.js";
import { swapSqlite } from "../../store/sqlite-file.js";
import type { Store } from "../../store/store.js";
import { SystemClock } from "../../time/clock.js";
import { Ids } from "../../time/ids.js";
import { SystemRandomness } from "../../time/randomness.js";
import { removed, sqliteFileOf, unfinished } from "../backup/copied.js";
import { type LookedThrough, lookedThrough } from "../backup/looked-through.js";

export interface Restored {
	readonly found: LookedThrough;
	/** Where the database lies that was there before; none: there was none. */
	readonly aside: string | undefined;
	/** Messages that nobody is sent until somebody says so; none: they go. */
	readonly withheld: number | undefined;
}

/**
 * Puts a backup in the database's place. Everything is done to a copy of it in the data folder, whatever goes wrong until the last step
 * leaves what is there as it is.
 * @throws InputError where the backup isn't whole, the key isn't its key, or somebody has the present database open
 */
export async function restored(
	settings: Settings,
	file: string,
	sends: boolean,
	anchors: readonly Anchor[],
	log: Pick<Logger, "info" | "warn">,
): Promise<Restored> {
	const present = sqliteFileOf(settings, "Bring a PostgreSQL database back with pg_restore, then run jarwatch after-restore.");
	const source = resolve(file);
	if (!existsSync(source)) throw new InputError("unknown-subject", `There is no file ${source}.`);
	mkdirSync(dirname(present), { recursive: true });
	const copy = unfinished(present);
	removed(copy);
	try {
		copyFileSync(source, copy, constants.COPYFILE_EXCL);
		const found = await lookedThrough(copy, anchors);
		const store = await openedStore(settings, log, copy);
		let withheld: number | undefined;
		try {
			withheld = await afterRestore(store, sends);
		} finally {
			await store.close();
		}
		const aside = existsSync(present) ? `${present}.before-${new SystemClock().nowMs()}` : undefined;
		swapSqlite(copy, present, aside ?? present);
		return { found, aside, withheld };
	} finally {
		removed(copy);
	}
}

/** Withholds what waits unless it shall go, and tells the ledger. @returns how many messages are withheld; none: they go */
export async function afterRestore(store: Store, sends: boolean): Promise<number | undefined> {
	const clock = new SystemClock();
	const ids = new Ids(clock, new SystemRandomness());
	const withheld = sends ? undefined : await new Withheld(store, clock, ids, () => undefined).withhold();
	await store.work.run((tx) =>
		record(tx, ids, [
			{
				atMs: clock.nowMs(),
				actor: "office",
				action: "backup restored",
				subjectKind: "database",
				subjectId: "database",
				detail: { withheld: withheld ?? "nothing: what waited goes" },
			},
		]),
	);
	return withheld;
}
