import type { MonthlyClimate } from "../science/exposure.js";
import { type FinishedBatch, priorForNextBatch } from "../science/learning.js";
import type { Prior } from "../science/prior.js";
import type { BeliefMoments } from "../science/rate-belief.js";
import { type PHKnowledge, rateMultiplierLnSd, solutionFromRun } from "../science/solution.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Forecast, JarFacts } from "./forecast.js";
import type { Calendars } from "./places.js";
import type { BatchRow, PhKnowledge, StrengthTestRow } from "./rows.js";

/** A jar with the place it stands in, as one reading statement brings it. */
export interface JarRow extends Omit<BatchRow, "forecast"> {
	readonly forecast: string | null;
	readonly latitudeDeg: number;
	readonly altitudeM: number;
	readonly climate: string;
	readonly timeZone: string;
}

/** As many earlier jars as teach something new; older ones tell of an electrode and a salt that are no more. */
const MOST_HISTORY = 30;

const PH_KNOWLEDGE: Readonly<Record<PhKnowledge, PHKnowledge>> = { "not measured": "unknown", strip: "strip", meter: "meter" };

type Reader = Pick<Transaction, "query">;

/** @returns the jars by id with their places */
export async function jarRows(from: Reader, ids: readonly string[]): Promise<JarRow[]> {
	if (ids.length === 0) return [];
	return from.query<JarRow & object>(
		`SELECT b.*, a.latitude_deg, a.altitude_m, a.climate, a.time_zone FROM batch b JOIN area a ON a.id = b.area_id
		 WHERE b.id IN (${placeholders(ids.length)})`,
		ids,
	);
}

/** @returns everything that each jar's forecast is made from */
export async function jarFacts(
	from: Reader,
	calendars: Calendars,
	rows: readonly JarRow[],
): Promise<ReadonlyMap<string, JarFacts>> {
	const ids = rows.map(({ id }) => id);
	if (ids.length === 0) return new Map();
	const tests = await from.query<StrengthTestRow>(
		// A test from before further minutes of its run tells of a weaker bleach than the jar holds now.
		`SELECT t.batch_id, t.tested_at_ms, t.kit, t.sample_ml, t.made_up_to_l, t.reading FROM strength_test t JOIN batch b ON b.id = t.batch_id
		 WHERE t.batch_id IN (${placeholders(ids.length)}) AND t.tested_at_ms >= b.made_at_ms ORDER BY t.tested_at_ms, t.id`,
		ids,
	);
	const facts = new Map<string, JarFacts>();
	for (const row of rows) {
		const { notes, ...solution } = solutionFromRun({
			strengthGPerL: row.madeStrengthGPerL,
			...(row.ph === null ? {} : { pH: row.ph }),
			saltGPerL: row.saltGPerL,
		});
		facts.set(row.id, {
			madeAtMs: row.madeAtMs,
			prior: row.forecast ? (JSON.parse(row.forecast) as Forecast).prior : await firstPrior(from, row),
			solution,
			notes,
			calendar: calendars.of({ ...row, climate: JSON.parse(row.climate) as MonthlyClimate[] }),
			tests: tests.filter(({ batchId }) => batchId === row.id),
		});
	}
	return facts;
}

/** What is believed of a new jar before any test: its run's record, and what its generator and its place have taught. */
async function firstPrior(from: Reader, row: JarRow): Promise<Prior> {
	const history = await from.query<Pick<BatchRow, "generatorId" | "madeStrengthGPerL"> & { place: string; forecast: string }>(
		`SELECT generator_id, made_strength_g_per_l, ${PLACE} AS place, forecast FROM batch
		 WHERE made_at_ms < $1 AND forecast IS NOT NULL AND id <> $2 AND (generator_id = $3 OR keeper_id = $4)
		 ORDER BY made_at_ms DESC LIMIT ${MOST_HISTORY}`,
		[row.madeAtMs, row.id, row.generatorId, row.keeperId],
	);
	return priorForNextBatch(
		history.flatMap(finished),
		{
			generatorId: row.generatorId ?? row.id,
			placeId: `${row.keeperId}|${row.wall}|${row.exposure}`,
			expectedInitialGPerL: row.madeStrengthGPerL,
		},
		{ lnInitialSd: Math.max(0.12, row.madeStrengthLnSd), lnRateSd: rateMultiplierLnSd(PH_KNOWLEDGE[row.phKnowledge]) },
	);
}

const PLACE = "keeper_id || '|' || wall || '|' || exposure";

function finished(past: {
	generatorId: string | null;
	madeStrengthGPerL: number;
	place: string;
	forecast: string;
}): FinishedBatch[] {
	const { prior, learned } = JSON.parse(past.forecast) as { prior: Prior; learned: BeliefMoments | null };
	if (!learned) return [];
	return [
		{
			generatorId: past.generatorId ?? "unknown",
			placeId: past.place,
			expectedInitialGPerL: past.madeStrengthGPerL,
			prior,
			posterior: learned,
		},
	];
}
