import { record } from "../../ledger/ledger.js";
import type { Transaction } from "../../store/unit-of-work.js";
import type { Ids } from "../../time/ids.js";

/** Which incident, and where. */
export interface Concerned {
	readonly id: string;
	readonly areaId: string;
}

interface Step {
	readonly action: "incident opened" | "incident looked into" | "incident noted" | "incident closed";
	readonly actor: string;
	readonly atMs: number;
	readonly detail: Record<string, unknown>;
}

/** A step of an incident stands in the ledger, and so on its time line. */
export function stepOf(tx: Transaction, ids: Ids, { id, areaId }: Concerned, step: Step): Promise<void> {
	return record(tx, ids, [{ ...step, subjectKind: "incident", subjectId: id, areaId }]);
}

/** @param because what settled it, or what somebody says of it */
export async function ended(
	tx: Transaction,
	ids: Ids,
	incident: Concerned,
	{ because, byPersonId, actor, atMs }: { because: string; byPersonId: string | null; actor: string; atMs: number },
): Promise<void> {
	await tx.affected(
		"UPDATE incident SET state = 'closed', closed_at_ms = $2, closed_by = $3, closed_because = $4 WHERE id = $1 AND state <> 'closed'",
		[incident.id, atMs, byPersonId, because],
	);
	await stepOf(tx, ids, incident, { action: "incident closed", actor, atMs, detail: { because } });
}
