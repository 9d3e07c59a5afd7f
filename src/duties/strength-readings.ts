import { currentPolicy } from "../programme/policy.js";
import type { Batches } from "../stock/batches.js";
import { RETEST } from "../stock/due-work.js";

import type { NewStrengthTest } from "../stock/strength-tests.js";
import type { Store } from "../store/store.js";
import { afterStrengthTest } from "./after-test.js";
import type { Answers } from "./answers.js";

/** A reading that came without being asked for: it answers the task that may be open for the jar. */
export class StrengthReadings {
	constructor(
		private readonly store: Store,
		private readonly batches: Batches,
		private readonly answers: Answers,
	) {}

	/** @throws InputError as `Batches.recordTest` and `Answers.take` do */
	record(code: string, test: Omit<NewStrengthTest, "batchId" | "recordedAtMs" | "taskId">): Promise<void> {
		return this.store.work.run(async (tx) => {
			const [task] = await tx.query<{ id: string }>(
				`SELECT t.id FROM task t JOIN batch b ON b.id = t.subject_id WHERE b.code = $1 AND t.kind = $2 AND t.state = 'open'`,
				[code, RETEST],
			);
			if (!task) {
				const kept = await this.batches.recordTest(code, { ...test, taskId: null });
				const moment = { nowMs: kept.test.recordedAtMs, policy: await currentPolicy(tx) };
				return afterStrengthTest(tx, this.batches.ids, kept.test, moment);
			}
			const { kit, sampleMl, madeUpToL, reading, testedAtMs, testerId } = test;
			const answer = { kind: "reading", reading, takenAtMs: testedAtMs, how: { kit, sampleMl, madeUpToL } } as const;
			await this.answers.take(task.id, answer, testerId);
		});
	}
}
