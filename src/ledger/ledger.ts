import type { Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";
import { actorOf } from "./acting.js";
import { canonicalText, DIGESTED, sha256 } from "./canonical.js";
import { currentOrigin } from "./origin.js";
import type { LedgerRow } from "./rows.js";

export type LedgerEntry = Omit<LedgerRow, "id" | "areaId" | "because" | "origin"> & {
	readonly areaId?: string | null;
	/** Why, where the detail doesn't say it as `because` or `reason`. */
	readonly because?: string;
};

/** So many entries stand on one sheet at most: whoever verifies holds a few sheets at a time. */
export const SHEET_ENTRIES = 1000;

/**
 * Adds entries in the same unit of work as the change that they tell of. Each has its digest at once, on a sheet that waits to be sealed:
 * what is changed, removed or put in beside it after this is found.
 */
export async function record(tx: Transaction, ids: Ids, entries: readonly LedgerEntry[]): Promise<void> {
	const origin = currentOrigin();
	for (let first = 0; first < entries.length; first += SHEET_ENTRIES) {
		const page = entries.slice(first, first + SHEET_ENTRIES);
		const rows = page.map((entry) => rowOf(ids.next(), entry, origin));
		await tx.insert("ledger_entry", DIGESTED, rows);
		await tx.insert("ledger_waiting", WAITING, [
			[
				ids.next(),
				Math.max(...page.map(({ atMs }) => atMs)),
				rows.length,
				JSON.stringify(rows.map(([id]) => id)),
				JSON.stringify(rows.map((row) => sha256(canonicalText(row)))),
			],
		]);
	}
}

const WAITING = ["id", "at_ms", "entries", "entry_ids", "digests"];

function rowOf(id: string, e: LedgerEntry, origin: string): (string | number | null)[] {
	const { actor, ...entered } = actorOf(e.actor);
	const detail = JSON.stringify({ ...e.detail, ...entered });
	const because = e.because ?? saidIn(e.detail);
	return [id, e.atMs, actor, e.action, e.subjectKind, e.subjectId, e.areaId ?? null, detail, because, origin];
}

function saidIn({ because, reason }: Record<string, unknown>): string | null {
	if (typeof because === "string") return because;
	return typeof reason === "string" ? reason : null;
}
