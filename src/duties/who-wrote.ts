import type { Incoming } from "../messages/inbound/incoming.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { KnownTask } from "./repeated-answer.js";

/** Somebody on the list who may have written a text. */
export interface Sender {
	readonly id: string;
	readonly name: string;
	readonly supervisorId: string | null;
}

/** Several people may share one phone. */
export function sendersOf(tx: Transaction, { fromAddress }: Incoming): Promise<Sender[]> {
	return tx.query<Sender>(
		"SELECT id, name, supervisor_id FROM person WHERE (phone_e164 = $1 OR email = $1) AND active ORDER BY code",
		[fromAddress],
	);
}

const TASK = "SELECT id, code, state, area_id, assignee_id FROM task";

export function openTasksOf(tx: Transaction, senders: readonly Sender[]): Promise<KnownTask[]> {
	const names = senders.map((_, i) => `$${i + 1}`).join(",");
	return tx.query<KnownTask>(
		`${TASK} WHERE assignee_id IN (${names}) AND state = 'open' ORDER BY opened_at_ms DESC, id LIMIT 20`,
		senders.map(({ id }) => id),
	);
}

/** The open task of that code; where none is open, the last one that was. */
export async function taskWithCode(tx: Transaction, code: string): Promise<KnownTask | undefined> {
	const [task] = await tx.query<KnownTask>(
		`${TASK} WHERE code = $1 ORDER BY CASE state WHEN 'open' THEN 0 ELSE 1 END, opened_at_ms DESC LIMIT 1`,
		[code],
	);
	return task;
}
