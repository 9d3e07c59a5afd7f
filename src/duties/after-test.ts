import { findDisagreements } from "../generators/comparisons.js";
import { COMPARE_TESTS, RUN_AGAIN } from "../generators/due-kinds.js";
import { weighRun } from "../generators/tested-run.js";
import type { StrengthTestRow } from "../stock/rows.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";
import type { Moment } from "./kind.js";
import { withdrawTasks } from "./withdraw.js";

/**
 * What else follows from a strength test once its batch has been forecast anew: the run that made the bleach is weighed by it, and it
 * is held against what somebody else read of the same jar.
 */
export async function afterStrengthTest(tx: Transaction, ids: Ids, test: StrengthTestRow, moment: Moment): Promise<void> {
	const actor = test.testerId ?? "office";
	const verdict = await weighRun(tx, test, moment);
	if (verdict.kind === "strong")
		await withdrawTasks(tx, ids, {
			kind: RUN_AGAIN,
			subjectIds: [verdict.runId],
			evidence: { because: "a test found the batch strong enough", strengthGPerL: Math.round(verdict.strengthGPerL * 10) / 10 },
			actor,
			nowMs: moment.nowMs,
		});
	if (!(await isSideBySide(tx, test.taskId))) await findDisagreements(tx, ids, test, moment);
}

/** A test that settles a disagreement isn't the beginning of another. */
async function isSideBySide(tx: Transaction, taskId: string | null): Promise<boolean> {
	if (taskId === null) return false;
	return (await tx.query("SELECT id FROM task WHERE id = $1 AND kind = $2", [taskId, COMPARE_TESTS])).length > 0;
}
