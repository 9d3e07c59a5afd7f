import { type ControlLimits, controlLimits } from "../science/control-limits.js";
import { runEfficiency } from "../science/current-efficiency.js";
import { type ElectrodeCare, electrodeCare } from "../science/electrode-care.js";
import { MINUTE_MS } from "../time/clock.js";
import type { GeneratorFacts, RunFacts } from "./generator-facts.js";

/** The current efficiency of one run. */
export interface EfficiencyPoint {
	readonly runCode: string;
	readonly endedAtMs: number;
	/** Share of the current that made chlorine. */
	readonly efficiency: number;
	/** More than the current can make: a figure of the log or the test is wrong, and it counts for nothing. */
	readonly aboveFaraday: boolean;
}

/** The efficiency chart of a generator since its electrode was cleaned or replaced. */
export interface EfficiencyChart {
	readonly points: readonly EfficiencyPoint[];
	/** Of the clean cell, shares; null until there are enough runs for a baseline. */
	readonly limits: ControlLimits | null;
	readonly care: ElectrodeCare;
	/** The last run lies below the lower limit. */
	readonly belowLimit: boolean;
	/** Median of the last three runs; null where none was measured. */
	readonly recentEfficiency: number | null;
}

/** Runs after a cleaning that say what the clean cell does. Source: as `electrodeCare`. */
const BASELINE_RUNS = 6;
/** Spread of ln efficiency that tests alone give. Source: as `electrodeCare`; a colour comparator is no finer. */
const TEST_LN_SD = 0.15;

/** @returns the chart; runs without a current, without a test soon after them, or read off the top of the scale aren't in it */
export function efficiencyChart({ generator, runs, lastDoneAtMs }: GeneratorFacts): EfficiencyChart {
	const cleanedAtMs = Math.max(lastDoneAtMs.descaled ?? 0, lastDoneAtMs["electrode replaced"] ?? 0);
	const points = runs.filter((run) => run.startedAtMs >= cleanedAtMs).flatMap((run) => pointOf(run, generator.cellsInSeries));
	const sound = points.filter(({ aboveFaraday }) => !aboveFaraday).map(({ efficiency }) => efficiency);
	const baseline = sound.slice(0, BASELINE_RUNS).map(Math.log);
	// The error of a test is a share of what is read, so the limits are those of the logarithm.
	const inLn = baseline.length < BASELINE_RUNS ? null : controlLimits(baseline, TEST_LN_SD);
	const limits = inLn && {
		centre: Math.exp(inLn.centre),
		sd: inLn.sd,
		lower: Math.exp(inLn.lower),
		upper: Math.exp(inLn.upper),
	};
	const last = sound.at(-1);
	const lastThree = sound.slice(-3).sort((a, b) => a - b);
	return {
		points,
		limits,
		care: electrodeCare(sound),
		belowLimit: limits !== null && last !== undefined && sound.length > BASELINE_RUNS && last < limits.lower,
		recentEfficiency: lastThree[lastThree.length >> 1] ?? null,
	};
}

function pointOf(run: RunFacts, cellsInSeries: number): EfficiencyPoint[] {
	const strengthGPerL = run.test && middleOf(run.test);
	if (run.endedAtMs === null || run.currentA === null || run.furtherOfRunId !== null || !strengthGPerL) return [];
	const { kind, currentEfficiency } = runEfficiency({
		currentA: run.currentA,
		runMinutes: (run.endedAtMs - run.startedAtMs) / MINUTE_MS,
		volumeL: run.waterL,
		strengthGPerL: Math.min(15, strengthGPerL),
		cellsInSeries,
	});
	const aboveFaraday = kind === "aboveFaraday";
	return [{ runCode: run.code, endedAtMs: run.endedAtMs, efficiency: Math.max(0.01, currentEfficiency), aboveFaraday }];
}

/** A colour band says no more than where it begins and ends: its middle in the logarithm is taken. */
function middleOf({ lowGPerL, highGPerL }: NonNullable<RunFacts["test"]>): number | null {
	if (highGPerL === null) return null;
	return lowGPerL > 0 ? Math.sqrt(lowGPerL * highGPerL) : highGPerL / 2;
}
