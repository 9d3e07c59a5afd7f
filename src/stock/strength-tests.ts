import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import type { Policy } from "../programme/policy.js";
import { readingInterval } from "../science/reading.js";
import type { Transaction } from "../store/unit-of-work.js";
import { refuseFuture } from "../time/future.js";
import type { Ids } from "../time/ids.js";
import { backInUse } from "./back-in-use.js";
import type { Forecast } from "./forecast.js";
import { refreshForecasts } from "./forecasts.js";
import { kitNamed, readingOnScale } from "./kits.js";
import type { Calendars } from "./places.js";
import { roundedFigures } from "./rounded-figures.js";
import { StrengthTestRow } from "./rows.js";

/** A test as it was taken; the reading as the grammar gives it. */
export type NewStrengthTest = Omit<StrengthTestRow, "id" | "lowGPerL" | "highGPerL" | "flags">;

/** A test as it is kept, and what it changes. */
export interface KeptTest {
	readonly test: StrengthTestRow;
	/** None: the jar has been discarded, or the models don't take what is on file of it. */
	readonly forecast: Forecast | undefined;
	/** It had been set aside for surfaces, and is for drinking water again. */
	readonly isBackInUse: boolean;
}

/** What keeping a test needs. */
export interface TestKeeping {
	readonly ids: Ids;
	readonly calendars: Calendars;
	readonly policy: Policy;
}

/**
 * Keeps a strength test, forecasts its jar anew and tells the ledger, in the caller's unit of work. The only way to keep one:
 * a test is never lost, whatever it does to the forecast.
 * @returns the row, flagged where it contradicts what was believed, and the forecast
 * @throws InputError `unknown-subject`, `unknown-kit`, `out-of-scale`, `time-in-future`, `time-before-made`
 */
export async function keepStrengthTest(tx: Transaction, given: NewStrengthTest, on: TestKeeping): Promise<KeptTest> {
	const { row, areaId } = await insertedTest(tx, on.ids, given);
	const forecasts = await refreshForecasts(tx, on.calendars, [given.batchId], on.policy, given.recordedAtMs);
	const forecast = forecasts.get(given.batchId);
	const contradiction = forecast?.contradiction?.testedAtMs === given.testedAtMs ? forecast.contradiction : null;
	const test = contradiction ? await flagged(tx, row, CONTRADICTS) : row;
	const { kit, sampleMl, madeUpToL, reading } = test;
	await record(tx, on.ids, [
		{
			atMs: given.recordedAtMs,
			actor: given.testerId ?? "office",
			action: "strength tested",
			subjectKind: "batch",
			subjectId: given.batchId,
			areaId,
			detail: {
				reading,
				kit,
				sampleMl,
				madeUpToL,
				...(given.taskId === null ? {} : { taskId: given.taskId }),
				...(forecast ? roundedFigures(forecast) : { notForecast: forecasts.unfit.get(given.batchId) ?? "discarded" }),
				...(contradiction ? { contradiction } : {}),
			},
		},
	]);
	const by = { actor: given.testerId ?? "office", nowMs: given.recordedAtMs };
	const isBackInUse = forecast !== undefined && (await backInUse(tx, on, given.batchId, forecast, by));
	return { test, forecast, isBackInUse };
}

const CONTRADICTS = "contradicts what was believed of the jar: test again with a fresh sample";

async function flagged(tx: Transaction, test: StrengthTestRow, flag: string): Promise<StrengthTestRow> {
	const flags = [...test.flags, flag];
	await tx.affected("UPDATE strength_test SET flags = $2 WHERE id = $1", [test.id, JSON.stringify(flags)]);
	return { ...test, flags };
}

async function insertedTest(tx: Transaction, ids: Ids, test: NewStrengthTest): Promise<{ row: StrengthTestRow; areaId: string }> {
	const [batch] = await tx.query<{ madeAtMs: number; areaId: string }>(
		"SELECT COALESCE(drawn_at_ms, made_at_ms) AS made_at_ms, area_id FROM batch WHERE id = $1",
		[test.batchId],
	);
	if (!batch) throw new InputError("unknown-subject", "There is no such batch.", { status: 404 });
	refuseFuture(test.testedAtMs, test.recordedAtMs, "/testedAt");
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
	return { row, areaId: batch.areaId };
}
