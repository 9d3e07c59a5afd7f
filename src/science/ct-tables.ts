import { valueWithin } from "./valid-range.js";

/**
 * Disinfection that a decaying residual has done: the integral of concentration over time.
 *
 * @param water `initialMgPerL` 0 to 100 mg/L; `kPerHour` first-order decay, 0 to 100 1/h; `minutes` 0 to 10 000 min
 * @returns CT, mg min/L
 * @throws RangeError outside these ranges
 * Source: CT = C0/k·(1 - e^(-k t)); C0·t for k = 0.
 */
export function ctMgMinPerL(water: {
	readonly initialMgPerL: number;
	readonly kPerHour: number;
	readonly minutes: number;
}): number {
	const start = valueWithin("concentration in mg/L", water.initialMgPerL, 0, 100);
	const kPerMinute = valueWithin("decay constant in 1/h", water.kPerHour, 0, 100) / 60;
	const minutes = valueWithin("time in min", water.minutes, 0, 10_000);
	return kPerMinute === 0 ? start * minutes : (start / kPerMinute) * -Math.expm1(-kPerMinute * minutes);
}

const tableC = [0.5, 5, 10, 15, 20, 25] as const;
const virusPH6To9 = [12, 8, 6, 4, 3, 2] as const;
const virusPH10 = [90, 60, 45, 30, 22, 15] as const;

/** Row of the next colder temperature in a table: a table is never read on the warm side. */
function colderRow(temperatures: readonly number[], temperatureC: number): number {
	valueWithin("water temperature in °C", temperatureC, temperatures[0]!, 45, "the table has no colder row");
	return temperatures.findLastIndex((row) => row <= temperatureC);
}

/**
 * CT that takes viruses down by 4 log, free chlorine.
 *
 * @param water `temperatureC` 0.5 to 45 °C; `pH` 6 to 10
 * @returns mg min/L of the next colder row; above pH 9 the pH 10 column
 * @throws RangeError outside these ranges
 * Source: US EPA 815-R-20-003 (2020), table B-2 (secondary transcription).
 */
export function virusCt4LogMgMinPerL(water: { readonly temperatureC: number; readonly pH: number }): number {
	const row = colderRow(tableC, water.temperatureC);
	return valueWithin("pH", water.pH, 6, 10) <= 9 ? virusPH6To9[row]! : virusPH10[row]!;
}

const giardiaC = [5, 10, 15, 20, 25] as const;
const giardiaPH = [6, 7, 7.5, 8, 9] as const;
const giardiaAt1MgPerL: readonly (readonly number[])[] = [
	[105, 149, 179, 216, 312],
	[79, 112, 134, 162, 234],
	[53, 75, 90, 108, 156],
	[39, 56, 67, 81, 117],
	[26, 37, 45, 54, 78],
];

/**
 * CT that takes Giardia down by 3 log at a residual up to 1 mg/L.
 *
 * @param water `temperatureC` 5 to 45 °C; `pH` 6 to 9; `residualMgPerL` 0 to 1.0 mg/L
 * @returns mg min/L of the next colder row, next higher pH and the 1.0 mg/L column, which is the cautious side below it
 * @throws RangeError outside these ranges; above 1.0 mg/L the need grows and this table doesn't tell it
 * Source: US EPA 815-R-20-003 (2020), table B-1 (secondary transcription).
 */
export function giardiaCt3LogMgMinPerL(water: {
	readonly temperatureC: number;
	readonly pH: number;
	readonly residualMgPerL: number;
}): number {
	valueWithin("residual in mg/L", water.residualMgPerL, 0, 1, "for more, ask the regression and say so");
	const row = colderRow(giardiaC, water.temperatureC);
	const pH = valueWithin("pH", water.pH, 6, 9);
	return giardiaAt1MgPerL[row]![giardiaPH.findIndex((column) => column >= pH)]!;
}

/**
 * Regression for the CT that Giardia needs: an estimate, up to 8 % off the table either way, never to be shown as the table.
 *
 * @param water `temperatureC` 0.5 to 25 °C; `pH` 6 to 9; `residualMgPerL` 0.4 to 4 mg/L; `logs` 0.5 to 3 (default 3)
 * @returns mg min/L
 * @throws RangeError outside these ranges
 * Source: CT = 0.2828·pH^2.69·C^0.15·0.933^(t-5)·L (US EPA; secondary).
 */
export function giardiaRegressionCtMgMinPerL(water: {
	readonly temperatureC: number;
	readonly pH: number;
	readonly residualMgPerL: number;
	readonly logs?: number;
}): number {
	const temperatureC = valueWithin("water temperature in °C", water.temperatureC, 0.5, 25);
	const pH = valueWithin("pH", water.pH, 6, 9);
	const residual = valueWithin("residual in mg/L", water.residualMgPerL, 0.4, 4);
	const logs = valueWithin("log reduction", water.logs ?? 3, 0.5, 3);
	return 0.2828 * pH ** 2.69 * residual ** 0.15 * 0.933 ** (temperatureC - 5) * logs;
}
