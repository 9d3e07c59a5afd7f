import { record } from "../ledger/ledger.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";

/** What an entry is about. */
interface Subject {
	readonly id: string;
	readonly code: string;
	readonly areaId: string;
}

/** Tells the ledger what was done with a generator or a battery, by its code. @param byPersonId null: somebody at the office */
export async function told(
	tx: Transaction,
	ids: Ids,
	[subjectKind, { id, code, areaId }]: readonly ["generator" | "battery", Subject],
	action: string,
	detail: Readonly<Record<string, unknown>>,
	atMs: number,
	byPersonId: string | null,
): Promise<void> {
	const actor = byPersonId ?? "office";
	await record(tx, ids, [
		{ atMs, actor, action, subjectKind, subjectId: id, areaId, detail: { [subjectKind]: code, ...detail } },
	]);
}
