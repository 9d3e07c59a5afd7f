import type { CalibrationPoint } from "./calibration.js";
import type { Outcome } from "./outcome.js";

/** @returns a line a row with the names of the columns above, as RFC 4180 has it; numbers and plain words only */
function csvOf(rows: readonly object[]): string {
	const names = Object.keys(rows[0] ?? {});
	const lines = rows.map((row) => names.map((name) => String((row as Record<string, unknown>)[name])).join(","));
	return `${[names.join(","), ...lines].join("\r\n")}\r\n`;
}

export const outcomesCsv = (outcomes: readonly Outcome[]): string =>
	csvOf(
		outcomes.map(({ causes, ...outcome }) => ({
			...outcome,
			...Object.fromEntries(Object.entries(causes).map(([cause, days]) => [`${cause}Days`, days])),
		})),
	);

export const calibrationCsv = (points: readonly CalibrationPoint[]): string =>
	csvOf(
		points.map((point) => ({
			...point,
			trueGPerL: point.trueGPerL.toFixed(3),
			medianGPerL: point.medianGPerL.toFixed(3),
			chanceBelow: point.chanceBelow.toFixed(4),
		})),
	);
