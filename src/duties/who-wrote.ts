import type { Incoming } from "../messages/inbound/incoming.js";
import { Blind } from "../store/sealing/blind.js";
import { blindOfColumn } from "../store/sealing/envelope.js";
import { among } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { WITH_CODE } from "./code-of-task.js";
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
		`SELECT id, name, supervisor_id FROM person
		 WHERE (${blindOfColumn("phone_e164")} ${among(tx.kind, "$1")} OR ${blindOfColumn("email")} ${among(tx.kind, "$1")}) AND active ORDER BY code`,
		[new Blind("address", fromAddress)],
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
	const [task] = await tx.query<KnownTask>(`${TASK} ${WITH_CODE}`, [code]);
	return task;
}
