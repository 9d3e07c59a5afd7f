import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { HOUR_MS } from "../time/clock.js";
import type { CareWork, ElectrodeLook, GeneratorRow } from "./rows.js";
import type { PowerSource } from "./run-rows.js";

/** A run, and the strength test that tells of it. */
export interface RunFacts {
	readonly id: string;
	readonly code: string;
	readonly generatorId: string;
	readonly operatorId: string | null;
	readonly startedAtMs: number;
	/** Null: it is still going on. */
	readonly endedAtMs: number | null;
	readonly saltG: number;
	readonly waterL: number;
	readonly powerSource: PowerSource;
	readonly batteryId: string | null;
	readonly currentA: number | null;
	readonly restVoltageV: number | null;
	readonly gasSeen: boolean | null;
	readonly batchId: string | null;
	readonly batchCode: string | null;
	readonly furtherOfRunId: string | null;
	/** The first test of its batch soon after its end, and before any further minutes; null: none. */
	readonly test: { readonly testedAtMs: number; readonly lowGPerL: number; readonly highGPerL: number | null } | null;
}

/** What has been run since something was done last. */
export interface RunSince {
	readonly runs: number;
	readonly hours: number;
}

/** A generator with all that its care is decided by. */
export interface GeneratorFacts {
	readonly generator: GeneratorRow & {
		readonly areaCode: string;
		readonly timeZone: string;
		readonly operatorCode: string | null;
	};
	/** The newest ones, the oldest first. */
	readonly runs: readonly RunFacts[];
	readonly firstRunAtMs: number | null;
	readonly lastEndedAtMs: number | null;
	readonly ever: RunSince;
	readonly sinceDescaled: RunSince;
	/** With the present electrode. */
	readonly sinceReplaced: RunSince;
	/** When each kind of work was done last. */
	readonly lastDoneAtMs: Readonly<Partial<Record<CareWork, number>>>;
	/** When an inspection last saw it so. */
	readonly lastSeenAtMs: Readonly<Partial<Record<ElectrodeLook, number>>>;
}

type Reader = Pick<Transaction, "query">;

/** More runs than this tell of an electrode that has been cleaned since. */
const MOST_RUNS = 120;

/** @returns the facts by generator; one that isn't on file isn't among them. Five statements, however many are asked for */
export async function generatorFacts(
	from: Reader,
	ids: readonly string[],
	testWithinHours: number,
): Promise<ReadonlyMap<string, GeneratorFacts>> {
	if (ids.length === 0) return new Map();
	const generators = await from.query<GeneratorFacts["generator"] & object>(
		`SELECT g.*, a.code AS area_code, a.time_zone, p.code AS operator_code
		 FROM generator g JOIN area a ON a.id = g.area_id LEFT JOIN person p ON p.id = g.operator_id WHERE g.id IN (${placeholders(ids.length)})`,
		ids,
	);
	const done = await from.query<{ generatorId: string; work: CareWork; look: ElectrodeLook | null; atMs: number }>(
		`SELECT generator_id, work, look, MAX(done_at_ms) AS at_ms FROM generator_care WHERE generator_id IN (${placeholders(ids.length)})
		 GROUP BY generator_id, work, look ORDER BY at_ms`,
		ids,
	);
	const totals = new Map((await totalsOf(from, ids)).map((row) => [row.generatorId, row]));
	const runs = await newestRuns(from, ids, testWithinHours);
	const facts = new Map<string, GeneratorFacts>();
	for (const generator of generators) {
		const total = totals.get(generator.id);
		const own = done.filter(({ generatorId }) => generatorId === generator.id);
		facts.set(generator.id, {
			generator: { ...generator, inService: Boolean(generator.inService) },
			runs: runs.filter(({ generatorId }) => generatorId === generator.id),
			firstRunAtMs: total?.firstAtMs ?? null,
			lastEndedAtMs: total?.lastEndedAtMs ?? null,
			ever: { runs: total?.runs ?? 0, hours: (total?.ms ?? 0) / HOUR_MS },
			sinceDescaled: { runs: total?.descaledRuns ?? 0, hours: (total?.descaledMs ?? 0) / HOUR_MS },
			sinceReplaced: { runs: total?.replacedRuns ?? 0, hours: (total?.replacedMs ?? 0) / HOUR_MS },
			// The latest stands last, and so is what is kept.
			lastDoneAtMs: Object.fromEntries(own.map(({ work, atMs }) => [work, atMs])),
			lastSeenAtMs: Object.fromEntries(own.flatMap(({ look, atMs }) => (look ? [[look, atMs]] : []))),
		});
	}
	return facts;
}

interface Totals {
	readonly generatorId: string;
	readonly firstAtMs: number;
	readonly lastEndedAtMs: number;
	readonly runs: number;
	readonly ms: number;
	readonly descaledRuns: number;
	readonly descaledMs: number;
	readonly replacedRuns: number;
	readonly replacedMs: number;
}

function totalsOf(from: Reader, ids: readonly string[]): Promise<(Totals & object)[]> {
	const after = (at: string, value: string) =>
		`CAST(SUM(CASE WHEN r.ended_at_ms > COALESCE(c.${at}, -1) THEN ${value} ELSE 0 END) AS bigint)`;
	const lasted = "r.ended_at_ms - r.started_at_ms";
	return from.query<Totals & object>(
		`SELECT r.generator_id, MIN(r.started_at_ms) AS first_at_ms, MAX(r.ended_at_ms) AS last_ended_at_ms,
			COUNT(*) AS runs, CAST(SUM(${lasted}) AS bigint) AS ms,
			${after("descaled_at_ms", "1")} AS descaled_runs, ${after("descaled_at_ms", lasted)} AS descaled_ms,
			${after("replaced_at_ms", "1")} AS replaced_runs, ${after("replaced_at_ms", lasted)} AS replaced_ms
		 FROM generator_run r LEFT JOIN (
			SELECT generator_id, MAX(CASE WHEN work IN ('descaled', 'electrode replaced') THEN done_at_ms END) AS descaled_at_ms,
				MAX(CASE WHEN work = 'electrode replaced' THEN done_at_ms END) AS replaced_at_ms
			FROM generator_care WHERE generator_id IN (${placeholders(ids.length)}) GROUP BY generator_id
		 ) c ON c.generator_id = r.generator_id
		 WHERE r.ended_at_ms IS NOT NULL AND r.generator_id IN (${placeholders(ids.length, ids.length + 1)}) GROUP BY r.generator_id`,
		[...ids, ...ids],
	);
}

type RunRow = Omit<RunFacts, "test" | "gasSeen"> & {
	readonly gasSeen: boolean | number | null;
	readonly testedAtMs: number | null;
	readonly lowGPerL: number | null;
	readonly highGPerL: number | null;
};

async function newestRuns(from: Reader, ids: readonly string[], testWithinHours: number): Promise<RunFacts[]> {
	const rows = await from.query<RunRow & object>(
		`SELECT x.* FROM (
			SELECT r.*, b.code AS batch_code, t.tested_at_ms, t.low_g_per_l, t.high_g_per_l,
				ROW_NUMBER() OVER (PARTITION BY r.id ORDER BY t.tested_at_ms, t.id) AS nth_test,
				DENSE_RANK() OVER (PARTITION BY r.generator_id ORDER BY r.started_at_ms DESC, r.id) AS nth_run
			FROM generator_run r LEFT JOIN batch b ON b.id = r.batch_id
			LEFT JOIN strength_test t ON t.batch_id = r.batch_id AND t.tested_at_ms BETWEEN r.ended_at_ms AND r.ended_at_ms + $1
			WHERE r.generator_id IN (${placeholders(ids.length, 2)})
		 ) x WHERE x.nth_test = 1 AND x.nth_run <= ${MOST_RUNS} ORDER BY x.started_at_ms`,
		[Math.round(testWithinHours * HOUR_MS), ...ids],
	);
	return rows.map((row) => runFacts(row, rows));
}

/** A test that was taken after further minutes tells of them. */
function runFacts(row: RunRow, all: readonly RunRow[]): RunFacts {
	const { testedAtMs, lowGPerL, highGPerL, gasSeen, ...run } = row;
	const overtaken =
		row.batchId !== null &&
		testedAtMs !== null &&
		all.some(({ batchId, startedAtMs }) => batchId === row.batchId && startedAtMs > row.startedAtMs && startedAtMs <= testedAtMs);
	return {
		...run,
		gasSeen: gasSeen === null ? null : Boolean(gasSeen),
		test: testedAtMs === null || lowGPerL === null || overtaken ? null : { testedAtMs, lowGPerL, highGPerL },
	};
}
