import { record } from "../ledger/ledger.js";
import { setDue } from "../programme/due.js";
import type { Policy } from "../programme/policy.js";
import { readingsApartSd } from "../science/readings-apart.js";
import { kitNamed } from "../stock/kits.js";
import type { StrengthTestRow } from "../stock/rows.js";
import type { Transaction } from "../store/unit-of-work.js";
import { HOUR_MS } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { COMPARE_TESTS } from "./due-kinds.js";
import { KitComparisonRow } from "./kit-rows.js";

/** From here on two readings can't both be right: honest testers come so far apart once in twenty times. Own choice. */
export const APART_SD = 2;

/** @returns how far two tests of one jar lie apart, in standard deviations of what their kits' errors allow */
export function testsApartSd(first: ReadTest, second: ReadTest): number {
	const read = ({ lowGPerL, highGPerL, kit }: ReadTest) => ({ lowGPerL, highGPerL, logSd: kitNamed(kit).logSd });
	return readingsApartSd(read(first), read(second));
}

type ReadTest = Pick<StrengthTestRow, "lowGPerL" | "highGPerL" | "kit">;

/**
 * Finds whether somebody else has read the jar quite differently within hours, without further minutes in between; both are then to
 * test it again, side by side.
 * @returns how many comparisons were begun: two, or none
 */
export async function findDisagreements(
	tx: Transaction,
	ids: Ids,
	test: StrengthTestRow,
	{ nowMs, policy }: { readonly nowMs: number; readonly policy: Policy },
): Promise<number> {
	if (test.testerId === null) return 0;
	const withinMs = Math.round(policy.generators.compareWithinHours * HOUR_MS);
	const others = await tx.query<ReadTest & { id: string; testerId: string; areaId: string; code: string }>(
		`SELECT t.id, t.tester_id, t.kit, t.low_g_per_l, t.high_g_per_l, b.area_id, b.code FROM strength_test t JOIN batch b ON b.id = t.batch_id
		 WHERE t.batch_id = $1 AND t.id <> $2 AND t.tester_id <> $3 AND t.tested_at_ms BETWEEN $4 AND $5 AND t.tested_at_ms >= b.made_at_ms
		 ORDER BY t.tested_at_ms DESC, t.id DESC`,
		[test.batchId, test.id, test.testerId, test.testedAtMs - withinMs, test.testedAtMs + withinMs],
	);
	const far = others.map((other) => ({ other, apartSd: testsApartSd(test, other) })).filter(({ apartSd }) => apartSd > APART_SD);
	const furthest = far.sort((a, b) => b.apartSd - a.apartSd)[0];
	if (!furthest) return 0;
	const { other, apartSd } = furthest;
	// They are asked once for a jar: until both have answered, nothing more can be learned from a third reading.
	const [open] = await tx.query("SELECT id FROM kit_comparison WHERE batch_id = $1 AND state = 'open'", [test.batchId]);
	if (open) return 0;
	const side = (own: { id: string; testerId: string }, their: { id: string; testerId: string }): KitComparisonRow => ({
		id: ids.next(),
		batchId: test.batchId,
		testId: own.id,
		otherTestId: their.id,
		testerId: own.testerId,
		otherTesterId: their.testerId,
		foundAtMs: nowMs,
		apartSd,
		state: "open",
		answerTestId: null,
	});
	const mine = { id: test.id, testerId: test.testerId };
	const sides = [side(mine, other), side(other, mine)];
	await tx.manager.insert(KitComparisonRow, sides);
	await setDue(
		tx,
		sides.map(({ id }) => ({ kind: COMPARE_TESTS, subjectId: id, areaId: other.areaId, dueAtMs: nowMs })),
	);
	await record(tx, ids, [
		{
			atMs: nowMs,
			actor: "comparison",
			action: "readings lie apart",
			subjectKind: "batch",
			subjectId: test.batchId,
			areaId: other.areaId,
			detail: { batch: other.code, apartSd: Math.round(apartSd * 10) / 10, testerIds: [mine.testerId, other.testerId] },
		},
	]);
	return sides.length;
}
