import { among } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";

/**
 * Tasks of which their assignee has heard nothing yet, because all that tells her of them was to be sent and couldn't, or waited for too
 * long: whoever hasn't been told hasn't failed to answer.
 * @returns ids of those among the given ones; what a channel refused for good counts as told, or nobody would ever hear of it
 */
export async function untold(
	from: Pick<Transaction, "query" | "kind">,
	taskIds: readonly string[],
): Promise<ReadonlySet<string>> {
	if (taskIds.length === 0) return new Set();
	const rows = await from.query<{ id: string }>(
		`SELECT m.task_id AS id FROM message m JOIN task t ON t.id = m.task_id AND t.assignee_id = m.recipient_id LEFT JOIN message d ON d.id = m.digest_id
		 WHERE m.task_id ${among(from.kind, "$1")} AND m.text NOT LIKE '%.supervisor' GROUP BY m.task_id
		 HAVING MAX(CASE WHEN COALESCE(d.state, m.state) IN ('sent', 'failed') THEN 1 ELSE 0 END) = 0
		    AND MAX(CASE WHEN COALESCE(d.state, m.state) IN ('stale', 'withheld') THEN 1
		                 WHEN COALESCE(d.state, m.state) IN ('waiting', 'claimed', 'held') AND (m.claim > 0 OR d.claim > 0) THEN 1 ELSE 0 END) = 1`,
		[taskIds],
	);
	return new Set(rows.map(({ id }) => id));
}
