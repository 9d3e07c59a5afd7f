import { InputError } from "../errors/errors.js";
import { readingInterval } from "../science/reading.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";
import { kitNamed, readingOnScale } from "./kits.js";
import { StrengthTestRow } from "./rows.js";

/** A test as it was taken; the reading as the grammar gives it. */
export type NewStrengthTest = Omit<StrengthTestRow, "id" | "lowGPerL" | "highGPerL" | "flags">;

/**
 * Keeps a strength test. The forecast is the caller's to refresh, in the same unit of work.
 * @returns the row
 * @throws InputError `unknown-subject`, `unknown-kit`, `out-of-scale`, `time-in-future`, `time-before-made`
 */
export async function insertStrengthTest(tx: Transaction, ids: Ids, test: NewStrengthTest): Promise<StrengthTestRow> {
	const [batch] = await tx.query<{ madeAtMs: number; state: string }>("SELECT made_at_ms, state FROM batch WHERE id = $1", [
		test.batchId,
	]);
	if (!batch) throw new InputError("unknown-subject", "There is no such batch.", { status: 404 });
	if (test.testedAtMs > test.recordedAtMs)
		throw new InputError(
			"time-in-future",
			"The test is said to be taken in the future; the time of the test, not after now, would be right.",
			{
				problems: [{ at: "/testedAt", message: "must not be after now" }],
			},
		);
	if (test.testedAtMs < batch.madeAtMs)
		throw new InputError(
			"time-before-made",
			`The test is said to be taken before the batch was made (${new Date(batch.madeAtMs).toISOString()}); check batch and time.`,
			{ problems: [{ at: "/testedAt", message: `must not be before ${new Date(batch.madeAtMs).toISOString()}` }] },
		);
	const kit = kitNamed(test.kit);
	const reading = readingOnScale(kit, test.reading);
	const interval = readingInterval(kit, test, reading);
	const row: StrengthTestRow = {
		...test,
		id: ids.next(),
		reading: String(reading),
		lowGPerL: interval.lowGPerL,
		highGPerL: Number.isFinite(interval.highGPerL) ? interval.highGPerL : null,
		flags: interval.flag === "mayBeBleached" ? ["the colour may have been bleached away: dilute more"] : [],
	};
	await tx.manager.insert(StrengthTestRow, row);
	return row;
}
