import type { Policy } from "../programme/policy.js";
import { runRemainder } from "../science/faraday.js";
import type { Forecast } from "../stock/forecast.js";
import type { BatchState } from "../stock/rows.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { efficiencyChart } from "./efficiency.js";
import { type GeneratorFacts, generatorFacts } from "./generator-facts.js";
import type { PowerSource } from "./run-rows.js";

/** A run whose batch may need further minutes. */
export interface BatchOfRun {
	/** The run that filled the batch first. */
	readonly runId: string;
	readonly runCode: string;
	readonly generatorId: string;
	readonly batchId: string;
	readonly batchCode: string;
	readonly batchState: BatchState;
	/** In the jar now, L. */
	readonly volumeL: number;
	/** Believed of it now; null where nothing is. */
	readonly strengthGPerL: number | null;
	readonly forecast: Forecast | null;
	/** The last reading doesn't fit what was believed, and a fresh sample is asked for. */
	readonly contradicted: boolean;
	readonly furtherRuns: number;
	/** Of the last run that went into it. */
	readonly operatorId: string | null;
	readonly currentA: number | null;
	readonly powerSource: PowerSource;
	readonly batteryId: string | null;
	readonly lastEndedAtMs: number;
}

/** A batch that is too weak, and what would mend it. */
export interface WeakBatch extends BatchOfRun {
	readonly strengthGPerL: number;
	readonly facts: GeneratorFacts;
	/** Whole minutes at the current below; more than the rules allow means that the cause is to be looked for. */
	readonly minutes: number;
	readonly currentA: number;
	readonly currentEfficiency: number;
	readonly missingChlorineG: number;
}

type Reader = Pick<Transaction, "query">;

const SELECT = `SELECT f.id AS run_id, f.code AS run_code, f.generator_id, b.id AS batch_id, b.code AS batch_code, b.state AS batch_state,
	b.volume_l, b.held_ul, b.forecast, r.operator_id, r.current_a, r.power_source, r.battery_id, r.ended_at_ms AS last_ended_at_ms,
	(SELECT COUNT(*) FROM generator_run n WHERE n.further_of_run_id = f.id) AS further_runs
	FROM generator_run f JOIN batch b ON b.id = f.batch_id
	JOIN generator_run r ON r.id = (SELECT l.id FROM generator_run l WHERE l.batch_id = f.batch_id ORDER BY l.started_at_ms DESC, l.id LIMIT 1)
	WHERE f.further_of_run_id IS NULL AND r.ended_at_ms IS NOT NULL AND`;

type Row = Omit<BatchOfRun, "strengthGPerL" | "contradicted" | "forecast"> & {
	readonly heldUl: number | null;
	readonly forecast: string | null;
};

/** @returns what first runs have filled, by run; by batch where the ids are those of batches */
export async function batchesOfRuns(
	from: Reader,
	by: "run" | "batch",
	ids: readonly string[],
): Promise<ReadonlyMap<string, BatchOfRun>> {
	if (ids.length === 0) return new Map();
	const rows = await from.query<Row & object>(
		`${SELECT} ${by === "run" ? "f.id" : "b.id"} IN (${placeholders(ids.length)})`,
		ids,
	);
	return new Map(
		rows.map(({ heldUl, forecast, ...row }) => {
			const believed = forecast === null ? null : (JSON.parse(forecast) as Forecast);
			return [
				by === "run" ? row.runId : row.batchId,
				{
					...row,
					volumeL: heldUl === null ? row.volumeL : heldUl / 1_000_000,
					forecast: believed,
					strengthGPerL: believed?.now.medianGPerL ?? null,
					contradicted: believed?.contradiction?.inARow === 1,
				},
			];
		}),
	);
}

/** @returns those of the batches that are more likely too weak than not, in the order given, with what each still needs */
export async function weakOnes(
	from: Reader,
	batches: readonly BatchOfRun[],
	{ generators: rules }: Policy,
): Promise<WeakBatch[]> {
	const weak = batches.filter(
		({ strengthGPerL, batchState, volumeL }) =>
			strengthGPerL !== null && strengthGPerL < rules.weakUnderGPerL && batchState !== "discarded" && volumeL >= 0.1,
	);
	const facts = await generatorFacts(from, [...new Set(weak.map(({ generatorId }) => generatorId))], rules.testWithinHours);
	return weak.flatMap((batch) => {
		const of = facts.get(batch.generatorId);
		const need = of && needOf(batch, of, rules.targetStrengthGPerL);
		return need ? [{ ...batch, facts: of, ...need }] : [];
	});
}

/** Of what its generator is filled with: less of a batch can't be run on. Own choice. */
const LEAST_SHARE = 0.25;

function needOf(
	batch: BatchOfRun,
	facts: GeneratorFacts,
	targetGPerL: number,
): Pick<WeakBatch, "minutes" | "currentA" | "currentEfficiency" | "missingChlorineG" | "strengthGPerL"> | null {
	const { generator } = facts;
	// So little doesn't cover the plates.
	if (batch.volumeL < LEAST_SHARE * generator.batchVolumeL) return null;
	// What the cell does now decides how long it takes, not what its plate says.
	const currentEfficiency = Math.min(1, Math.max(0.01, efficiencyChart(facts).recentEfficiency ?? generator.currentEfficiency));
	const currentA = batch.currentA ?? generator.ratedCurrentA;
	const strengthGPerL = Math.min(15, batch.strengthGPerL ?? 0);
	const rest = runRemainder({
		strengthGPerL: targetGPerL,
		volumeL: batch.volumeL,
		currentEfficiency,
		cellsInSeries: generator.cellsInSeries,
		currentA,
		strengthNowGPerL: strengthGPerL,
	});
	if (rest.kind === "finished") return null;
	return { minutes: rest.moreWholeMinutes, currentA, currentEfficiency, missingChlorineG: rest.missingChlorineG, strengthGPerL };
}
