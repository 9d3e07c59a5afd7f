import { DefectError } from "../errors/errors.js";
import { among } from "../store/sql.js";
import type { Statements } from "../store/statements.js";
import type { Store } from "../store/store.js";
import type { Clock } from "../time/clock.js";
import { BEGINNING, type Head, linksOf } from "./chain.js";

/** Sheets that one unit of work seals at most: others wait for it on SQLite. */
const SHEETS_AT_ONCE = 200;

/** Any fixed number serves that nothing else in the program locks. */
const SEAL_LOCK = 7_521_910;

/**
 * Gives committed entries their places in the chain. Units of work don't wait for one another to be chained: each leaves its sheet, and
 * one sealer after the other links what it finds.
 */
export class Sealer {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
	) {}

	/** Seals what is there. @param goOn asked before each unit of work @returns how many entries were sealed */
	async seal(goOn: () => boolean = () => true): Promise<number> {
		let sealed = 0;
		while (goOn()) {
			const now = await this.sealSome();
			sealed += now;
			if (now === 0) break;
		}
		return sealed;
	}

	private async sealSome(): Promise<number> {
		// Most rounds find nothing, and must not stand in the writers' queue for that.
		const [any] = await this.store.query("SELECT id FROM ledger_waiting LIMIT 1");
		if (!any) return 0;
		return this.store.work.run(async (tx) => {
			if (tx.kind === "postgres") {
				const [lock] = await tx.query<{ ours: boolean }>("SELECT pg_try_advisory_xact_lock($1) AS ours", [SEAL_LOCK]);
				if (!lock?.ours) return 0;
			}
			const sheets = await tx.query<{ id: string; entryIds: string; digests: string }>(
				"SELECT id, entry_ids, digests FROM ledger_waiting ORDER BY id LIMIT $1",
				[SHEETS_AT_ONCE],
			);
			const parsed = sheets.map(({ entryIds, digests }) => ({
				entryIds: JSON.parse(entryIds) as string[],
				digests: JSON.parse(digests) as string[],
			}));
			const links = linksOf(await headOf(tx), parsed, this.clock.nowMs());
			await tx.insert(
				"ledger_seal",
				["first_position", "entries", "entry_ids", "digests", "sealed_at_ms", "hash"],
				links.map((link) => [
					link.firstPosition,
					link.entries,
					JSON.stringify(link.entryIds),
					JSON.stringify(link.digests),
					link.sealedAtMs,
					link.hash,
				]),
			);
			const gone = await tx.affected(`DELETE FROM ledger_waiting WHERE id ${among(tx.kind, "$1")}`, [sheets.map(({ id }) => id)]);
			if (gone !== sheets.length) throw new DefectError("sheets of the ledger were taken away while they were sealed");
			return links.reduce((sum, { entries }) => sum + entries, 0);
		});
	}
}

/** @returns the end of the chain */
export async function headOf(on: Pick<Statements, "query">): Promise<Head> {
	const [last] = await on.query<{ firstPosition: number; entries: number; hash: string; sealedAtMs: number }>(
		"SELECT first_position, entries, hash, sealed_at_ms FROM ledger_seal ORDER BY first_position DESC LIMIT 1",
	);
	return last ? { position: last.firstPosition + last.entries - 1, hash: last.hash, sealedAtMs: last.sealedAtMs } : BEGINNING;
}

/** More sheets than this aren't counted: whoever watches asks often. */
const SHEETS_COUNTED = 1000;

/** What isn't sealed yet. */
export interface Waiting {
	/** Of the first thousand sheets. */
	readonly entries: number;
	/** Of the oldest sheet; none where nothing waits. */
	readonly oldestAtMs: number | null;
}

/** @returns how much waits to be sealed, and since when */
export async function waitingOf(on: Pick<Statements, "query">): Promise<Waiting> {
	const sheets = await on.query<{ entries: number; atMs: number }>(
		`SELECT entries, at_ms FROM ledger_waiting ORDER BY id LIMIT ${SHEETS_COUNTED}`,
	);
	return {
		entries: sheets.reduce((sum, { entries }) => sum + entries, 0),
		oldestAtMs: sheets.length === 0 ? null : Math.min(...sheets.map(({ atMs }) => atMs)),
	};
}
