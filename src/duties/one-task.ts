import type { Transaction } from "../store/unit-of-work.js";
import type { TaskRow } from "./rows.js";

type Kept = Omit<TaskRow, "brief" | "outcome"> & { readonly brief: string; readonly outcome: string | null };

/** @returns a task with what its kind of work wrote of it; none where there is no such task */
export async function oneTask(from: Pick<Transaction, "query">, id: string): Promise<TaskRow | undefined> {
	const [row] = await from.query<Kept>("SELECT * FROM task WHERE id = $1", [id]);
	if (!row) return undefined;
	const outcome = row.outcome === null ? null : (JSON.parse(row.outcome) as Record<string, unknown>);
	return { ...row, brief: JSON.parse(row.brief) as Record<string, unknown>, outcome };
}
