import { setDue } from "../programme/due.js";
import type { Policy } from "../programme/policy.js";
import type { Transaction } from "../store/unit-of-work.js";
import { HOUR_MS } from "../time/clock.js";
import { FIND_FAULT, RUN_AGAIN } from "./due-kinds.js";
import { batchesOfRuns, weakOnes } from "./further.js";
import { refreshGenerators } from "./refresh.js";

/** What a strength test says of the run that made the bleach. */
export type RunVerdict =
	| { readonly kind: "not of a run" }
	/** It doesn't fit what was believed: a fresh sample, which is asked for already, decides. */
	| { readonly kind: "contradicted" }
	/** Strong enough; further minutes that were asked for aren't needed any more. */
	| { readonly kind: "strong"; readonly runId: string; readonly strengthGPerL: number }
	| { readonly kind: "run again"; readonly runId: string; readonly minutes: number }
	| { readonly kind: "find the fault"; readonly runId: string; readonly generatorId: string };

/**
 * Weighs a run by a test of its batch that has just been kept and forecast, and sets what becomes due.
 * A batch that is too weak is run on; one that stays weak after further minutes, or that would need more of them than the programme
 * allows, has a cause that is looked for.
 */
export async function weighRun(
	tx: Transaction,
	test: { readonly batchId: string; readonly testedAtMs: number },
	moment: { readonly nowMs: number; readonly policy: Policy },
): Promise<RunVerdict> {
	const { nowMs, policy } = moment;
	const batch = (await batchesOfRuns(tx, "batch", [test.batchId])).get(test.batchId);
	if (!batch || batch.strengthGPerL === null) return { kind: "not of a run" };
	const { lastEndedAtMs, runId, generatorId } = batch;
	const soon = test.testedAtMs >= lastEndedAtMs && test.testedAtMs <= lastEndedAtMs + policy.generators.testWithinHours * HOUR_MS;
	if (!soon) return { kind: "not of a run" };
	await refreshGenerators(tx, [generatorId], moment);
	if (batch.contradicted) return { kind: "contradicted" };
	const [weak] = await weakOnes(tx, [batch], policy);
	if (!weak) {
		// So little is left of it that nothing can be mended, which doesn't make it strong.
		const isWeak = batch.strengthGPerL < policy.generators.weakUnderGPerL;
		return isWeak ? { kind: "not of a run" } : { kind: "strong", runId, strengthGPerL: batch.strengthGPerL };
	}
	const { areaId } = weak.facts.generator;
	if (weak.furtherRuns > 0 || weak.minutes > policy.generators.mostFurtherMinutes) {
		await setDue(tx, [{ kind: FIND_FAULT, subjectId: generatorId, areaId, dueAtMs: nowMs }]);
		return { kind: "find the fault", runId, generatorId };
	}
	await setDue(tx, [{ kind: RUN_AGAIN, subjectId: runId, areaId, dueAtMs: nowMs }]);
	return { kind: "run again", runId, minutes: weak.minutes };
}

/**
 * Makes further minutes due for the last batch of a generator where it is weak and they mend it: once its cause is mended, or the
 * generator works again.
 * @returns whether they are
 */
export async function runOnIfWeak(
	tx: Transaction,
	generatorId: string,
	{ nowMs, policy }: { readonly nowMs: number; readonly policy: Policy },
): Promise<boolean> {
	const [last] = await tx.query<{ batchId: string | null }>(
		"SELECT batch_id FROM generator_run WHERE generator_id = $1 AND ended_at_ms IS NOT NULL ORDER BY started_at_ms DESC LIMIT 1",
		[generatorId],
	);
	const batches = await batchesOfRuns(tx, "batch", last?.batchId ? [last.batchId] : []);
	const tested = [...batches.values()].filter(
		({ contradicted, lastEndedAtMs }) => !contradicted && nowMs - lastEndedAtMs <= policy.generators.testWithinHours * HOUR_MS,
	);
	const [weak] = await weakOnes(tx, tested, policy);
	if (!weak || weak.minutes > policy.generators.mostFurtherMinutes) return false;
	const { areaId } = weak.facts.generator;
	await setDue(tx, [{ kind: RUN_AGAIN, subjectId: weak.runId, areaId, dueAtMs: nowMs }]);
	return true;
}
