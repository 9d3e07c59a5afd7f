import { CHLORINE_G_PER_AMPERE_HOUR } from "./faraday.js";
import { valueWithin } from "./valid-range.js";

/** A finished run as its log tells it. */
export interface FinishedRun {
	/** Mean current, A, 0.05 to 500. */
	readonly currentA: number;
	/** Minutes, 1 to 2880. */
	readonly runMinutes: number;
	/** Batch, L, 0.1 to 1000. */
	readonly volumeL: number;
	/** Strength tested right after the run, g/L as Cl2, 0 to 15. */
	readonly strengthGPerL: number;
	/** Cells in series, 1 to 24. Default 1. */
	readonly cellsInSeries?: number;
}

/** Current efficiency of a run: "aboveFaraday" means that a figure of the log or the test is wrong, so no trend should take it in. */
export type RunEfficiency = { readonly kind: "plausible" | "aboveFaraday"; readonly currentEfficiency: number };

/** A strength test may read this much high before a run is called impossible: 12 % is a titration's largest error (Wells et al. 2016). */
const TEST_ALLOWANCE = 1.12;

/**
 * Share of a run's current that made chlorine.
 *
 * @param run figures of the log
 * @returns share; usual 0.60 to 0.75 for small cells without a membrane (from memory). "aboveFaraday" from 1.12 up: more than the
 *   current can make even with the test reading high; look at current, minutes, litres, number of cells and the test
 * @throws RangeError outside the ranges of the fields
 * Source: Faraday's law; test error Wells, Wolfe, Murray, Lantagne 2016, PLoS ONE 11:e0152442.
 */
export function runEfficiency(run: FinishedRun): RunEfficiency {
	const currentA = valueWithin("current in A", run.currentA, 0.05, 500);
	const hours = valueWithin("run in minutes", run.runMinutes, 1, 2880) / 60;
	const cells = valueWithin("cells in series", run.cellsInSeries ?? 1, 1, 24);
	const chlorineG = valueWithin("strength in g/L", run.strengthGPerL, 0, 15) * valueWithin("batch in L", run.volumeL, 0.1, 1000);
	const currentEfficiency = chlorineG / (CHLORINE_G_PER_AMPERE_HOUR * currentA * hours * cells);
	return { kind: currentEfficiency > TEST_ALLOWANCE ? "aboveFaraday" : "plausible", currentEfficiency };
}
