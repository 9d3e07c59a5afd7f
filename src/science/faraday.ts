import { CL2_G_PER_MOL } from "./units.js";
import { valueWithin } from "./valid-range.js";

/** Faraday constant, C/mol. Source: CODATA 2018, exact since the SI of 2019. */
export const FARADAY_C_PER_MOL = 96_485.332_12;
const ELECTRONS_PER_CL2 = 2;
const SECONDS_PER_HOUR = 3600;

/** Chlorine that one ampere-hour makes in one cell at full current efficiency, g/(A h). Source: Faraday's law, two electrons a Cl2. */
export const CHLORINE_G_PER_AMPERE_HOUR = (CL2_G_PER_MOL * SECONDS_PER_HOUR) / (ELECTRONS_PER_CL2 * FARADAY_C_PER_MOL);

/** What the current meets: its efficiency and how many cells it passes one after the other. */
export interface CellStack {
	/** Share of the current that makes chlorine, above 0 to 1; 0.60 is a usual small cell without a membrane. */
	readonly currentEfficiency: number;
	/** Cells in series, 1 to 24: the same ampere-hour makes chlorine in each of them. Default 1. */
	readonly cellsInSeries?: number;
}

function gramsPerAmpereHour({ currentEfficiency, cellsInSeries = 1 }: CellStack): number {
	valueWithin("current efficiency (share of 1)", currentEfficiency, 0.01, 1);
	valueWithin("cells in series", cellsInSeries, 1, 24);
	return CHLORINE_G_PER_AMPERE_HOUR * currentEfficiency * cellsInSeries;
}

const current = (currentA: number): number => valueWithin("current in A", currentA, 0.05, 500);
const minutes = (runMinutes: number): number => valueWithin("run in minutes", runMinutes, 0, 2880);
const litres = (volumeL: number): number => valueWithin("batch in L", volumeL, 0.1, 1000);
const strength = (name: string, gPerL: number, min: number): number => valueWithin(`${name} in g/L`, gPerL, min, 15);

/**
 * Chlorine that a run makes, by Faraday's law.
 *
 * @param run `currentA` through the cells, 0.05 to 500 A; `runMinutes` 0 to 2880 min; the cells' efficiency and number
 * @returns grams of available chlorine as Cl2, 0 for a run of no minutes
 * @throws RangeError outside these ranges
 * Assumes a constant current: take the mean of the log. Source: Faraday's law.
 */
export function chlorineMadeG(run: CellStack & { readonly currentA: number; readonly runMinutes: number }): number {
	return (gramsPerAmpereHour(run) * current(run.currentA) * minutes(run.runMinutes)) / 60;
}

/**
 * Strength that a run gives its batch.
 *
 * @param run as for `chlorineMadeG`, with `volumeL` 0.1 to 1000 L
 * @returns g/L as Cl2; nothing is taken off for what decays or gasses off while the run lasts
 * @throws RangeError outside these ranges
 * Source: Faraday's law.
 */
export function strengthMadeGPerL(
	run: CellStack & { readonly currentA: number; readonly runMinutes: number; readonly volumeL: number },
): number {
	return chlorineMadeG(run) / litres(run.volumeL);
}

/** A batch that is wanted. */
export interface WantedBatch extends CellStack {
	/** Wanted strength, g/L as Cl2, 0.1 to 15. */
	readonly strengthGPerL: number;
	/** Volume, L, 0.1 to 1000. */
	readonly volumeL: number;
}

/**
 * Charge that a batch needs from the battery.
 *
 * @param batch wanted strength and volume, and the cells that make it
 * @returns A h at the battery's terminals; cells in series share it
 * @throws RangeError outside the ranges of the fields
 * Source: Faraday's law.
 */
export function chargeNeededAh(batch: WantedBatch): number {
	return (strength("wanted strength", batch.strengthGPerL, 0.1) * litres(batch.volumeL)) / gramsPerAmpereHour(batch);
}

/**
 * Minutes that a batch needs at a current.
 *
 * @param batch wanted batch with `currentA` 0.05 to 500 A
 * @returns minutes, not rounded
 * @throws RangeError outside the ranges of the fields
 * Source: Faraday's law.
 */
export function runMinutesNeeded(batch: WantedBatch & { readonly currentA: number }): number {
	return (chargeNeededAh(batch) / current(batch.currentA)) * 60;
}

/**
 * Current that makes a batch in the given minutes.
 *
 * @param batch wanted batch with `runMinutes` 1 to 2880 min
 * @returns A
 * @throws RangeError outside the ranges of the fields
 * Source: Faraday's law.
 */
export function currentNeededA(batch: WantedBatch & { readonly runMinutes: number }): number {
	return (chargeNeededAh(batch) / valueWithin("run in minutes", batch.runMinutes, 1, 2880)) * 60;
}

/** What is still to do on a run. */
export type RunRemainder =
	| { readonly kind: "finished"; readonly strengthNowGPerL: number }
	| {
			readonly kind: "unfinished";
			readonly strengthNowGPerL: number;
			readonly missingChlorineG: number;
			/** Exact minutes at this current. */
			readonly moreMinutes: number;
			/** The same, up to the next whole minute, for the person at the switch. */
			readonly moreWholeMinutes: number;
	  };

/**
 * What an unfinished run still needs at its present current.
 *
 * @param run wanted batch, `currentA` now (0.05 to 500 A) and the strength so far: measured (`strengthNowGPerL`, 0 to 15 g/L) or,
 *   without a test, the minutes already run at this current (`minutesRun`, 0 to 2880)
 * @returns the missing grams and minutes, or that the strength is reached; a measured strength always wins over the minutes
 * @throws RangeError outside these ranges, or if neither a strength nor minutes are given
 * A weak battery lowers the current while the run lasts: read the current again before trusting the minutes. Source: Faraday's law.
 */
export function runRemainder(
	run: WantedBatch & { readonly currentA: number; readonly strengthNowGPerL?: number; readonly minutesRun?: number },
): RunRemainder {
	if (run.strengthNowGPerL === undefined && run.minutesRun === undefined) {
		throw new RangeError("strength so far (0 to 15 g/L) or minutes run (0 to 2880) must be given, got neither");
	}
	const strengthNowGPerL =
		run.strengthNowGPerL === undefined
			? strengthMadeGPerL({ ...run, runMinutes: run.minutesRun ?? 0 })
			: strength("strength so far", run.strengthNowGPerL, 0);
	const missingGPerL = strength("wanted strength", run.strengthGPerL, 0.1) - strengthNowGPerL;
	if (missingGPerL <= 1e-9) return { kind: "finished", strengthNowGPerL };
	const missingChlorineG = missingGPerL * litres(run.volumeL);
	const moreMinutes = (missingChlorineG / (gramsPerAmpereHour(run) * current(run.currentA))) * 60;
	return {
		kind: "unfinished",
		strengthNowGPerL,
		missingChlorineG,
		moreMinutes,
		moreWholeMinutes: Math.ceil(moreMinutes - 1e-9),
	};
}
