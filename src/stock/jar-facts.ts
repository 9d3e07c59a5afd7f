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
import { journeyOf, type Stay, staysOf, testedIn } from "./stays.js";

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

/** By jar: why the models don't take what is on file of it. */
export type Unfit = Map<string, string>;

/**
 * @param unfit gets the jars that the models don't take, each with why
 * @returns everything that each other jar's forecast is made from
 */
export async function jarFacts(
	from: Reader,
	calendars: Calendars,
	rows: readonly JarRow[],
	unfit: Unfit,
): Promise<ReadonlyMap<string, JarFacts>> {
	const ids = rows.map(({ id }) => id);
	if (ids.length === 0) return new Map();
	const stays = await staysOf(from, ids);
	const inJars = [...stays.values()].flatMap((of) => of.map(({ inJarId }) => inJarId));
	const tests = await testsIn(from, [...new Set([...ids, ...inJars])]);
	const facts = new Map<string, JarFacts>();
	for (const row of rows) {
		const history = row.forecast ? [] : await earlierJars(from, row);
		// One jar that was put on file with figures that no model takes mustn't keep the others from their forecasts.
		const own = attempted(row.id, unfit, () => factsOf(row, history, calendars, stays.get(row.id)));
		if (own) facts.set(row.id, { ...own, tests: testsOf(row, tests, stays.get(row.id)) });
	}
	return facts;
}

/** @returns what was made of a jar; nothing, and why in `unfit`, where that failed */
export function attempted<T>(jarId: string, unfit: Unfit, make: () => T): T | undefined {
	try {
		return make();
	} catch (error) {
		unfit.set(jarId, error instanceof Error ? error.message : String(error));
		return undefined;
	}
}

function factsOf(
	row: JarRow,
	history: readonly EarlierJar[],
	calendars: Calendars,
	moved: readonly Stay[] | undefined,
): Omit<JarFacts, "tests"> {
	const { notes, ...solution } = solutionFromRun({
		strengthGPerL: row.madeStrengthGPerL,
		...(row.ph === null ? {} : { pH: row.ph }),
		saltGPerL: row.saltGPerL,
	});
	return {
		madeAtMs: row.madeAtMs,
		prior: row.forecast ? (JSON.parse(row.forecast) as Forecast).prior : firstPrior(row, history),
		solution,
		notes,
		...(moved
			? journeyOf(moved, calendars, row.madeStrengthGPerL)
			: { calendar: calendars.of({ ...row, climate: JSON.parse(row.climate) as MonthlyClimate[] }) }),
	};
}

/** @returns the tests of jars, the earliest first */
async function testsIn(from: Reader, jarIds: readonly string[]): Promise<StrengthTestRow[]> {
	return from.query<StrengthTestRow>(
		`SELECT * FROM strength_test WHERE batch_id IN (${placeholders(jarIds.length)}) ORDER BY tested_at_ms, id`,
		jarIds,
	);
}

/** The tests of what is in a jar: those of the jars that it was poured from count as long as it was in them. */
function testsOf(
	{ id, madeAtMs }: Pick<JarRow, "id" | "madeAtMs">,
	tests: readonly StrengthTestRow[],
	stays: readonly Stay[] = [],
): StrengthTestRow[] {
	// A test from before further minutes of its run tells of a weaker bleach than the jar holds now.
	const since = tests.filter(({ testedAtMs }) => testedAtMs >= madeAtMs);
	if (stays.length === 0) return since.filter(({ batchId }) => batchId === id);
	const places = testedIn(stays);
	return since.filter(({ batchId, testedAtMs }) =>
		places.some(({ inJarId, fromMs, untilMs }) => batchId === inJarId && testedAtMs >= fromMs && testedAtMs < untilMs),
	);
}

/** @returns the jar's own tests and those that it inherited, the earliest first; one of a weaker bleach from before further minutes too */
export async function testsOfJar(from: Reader, jarId: string): Promise<StrengthTestRow[]> {
	const stays = (await staysOf(from, [jarId])).get(jarId);
	const tests = await testsIn(from, [...new Set([jarId, ...(stays ?? []).map(({ inJarId }) => inJarId)])]);
	return testsOf({ id: jarId, madeAtMs: Number.NEGATIVE_INFINITY }, tests, stays);
}

interface EarlierJar {
	readonly generatorId: string | null;
	readonly madeStrengthGPerL: number;
	readonly place: string;
	readonly forecast: string;
}

/**
 * Jars of the same generator or keeper from which a new one learns, the latest making first. Of the jars of one making, which share its
 * first tests, the one whose tests have told most of its rate stands for all: mostly one that was drawn off and tested later.
 */
async function earlierJars(from: Reader, row: JarRow): Promise<EarlierJar[]> {
	const jars = await from.query<EarlierJar & { madeAtMs: number }>(
		`SELECT generator_id, made_at_ms, made_strength_g_per_l, ${PLACE} AS place, forecast FROM batch
		 WHERE made_at_ms < $1 AND forecast IS NOT NULL AND id <> $2 AND (generator_id = $3 OR keeper_id = $4)
		 ORDER BY made_at_ms DESC, id LIMIT ${MOST_HISTORY * MOST_OF_ONE_MAKING}`,
		[row.madeAtMs, row.id, row.generatorId, row.keeperId],
	);
	const byMaking = new Map<string, { readonly jar: EarlierJar; readonly lnRateSd: number }>();
	for (const { madeAtMs, ...jar } of jars) {
		const making = `${jar.generatorId ?? jar.place}|${madeAtMs}`;
		const lnRateSd = lnRateSdOf(jar);
		const known = byMaking.get(making);
		if (!known || lnRateSd < known.lnRateSd) byMaking.set(making, { jar, lnRateSd });
	}
	return [...byMaking.values()].slice(0, MOST_HISTORY).map(({ jar }) => jar);
}

const MOST_OF_ONE_MAKING = 6;

const lnRateSdOf = ({ forecast }: EarlierJar): number =>
	(JSON.parse(forecast) as { learned: BeliefMoments | null }).learned?.lnRateSd ?? Number.POSITIVE_INFINITY;

/** What is believed of a new jar before any test: its run's record, and what its generator and its place have taught. */
function firstPrior(row: JarRow, history: readonly EarlierJar[]): Prior {
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

function finished(past: EarlierJar): FinishedBatch[] {
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
