import { secondOrderResidualMgPerL } from "./residual.js";
import { valueWithin } from "./valid-range.js";

/** A reading of the free residual in one fill of a container. */
export interface ResidualReading {
	/** Since dosing, h, 0.5 to 720. */
	readonly hours: number;
	/** Free residual, mg/L, 0 to 20. */
	readonly residualMgPerL: number;
}

/** A straight-line fit of readings in one fill. */
export interface ResidualFit {
	readonly order: "first" | "second";
	/** Where the line meets time 0, mg/L: not the dose, the demand is already off. */
	readonly initialMgPerL: number;
	/** 1/h for the first order, L/(mg h) for the second; 0 when the readings don't fall. */
	readonly k: number;
	/** Standard error of k in its unit; null for two readings. */
	readonly kStandardError: number | null;
	/** Root mean square distance of the readings from the curve, mg/L: compare orders by it. */
	readonly rmsMgPerL: number;
}

/** A fit, or why there is none. */
export type FitResult = { readonly kind: "fit"; readonly fit: ResidualFit } | { readonly kind: "tooFewReadings" };

function line(points: readonly (readonly [number, number])[]) {
	const n = points.length;
	const meanX = points.reduce((sum, [x]) => sum + x, 0) / n;
	const meanY = points.reduce((sum, [, y]) => sum + y, 0) / n;
	const sxx = points.reduce((sum, [x]) => sum + (x - meanX) ** 2, 0);
	const slope = points.reduce((sum, [x, y]) => sum + (x - meanX) * (y - meanY), 0) / sxx;
	const intercept = meanY - slope * meanX;
	const squares = points.reduce((sum, [x, y]) => sum + (y - intercept - slope * x) ** 2, 0);
	return { slope, intercept, meanY, slopeError: n > 2 ? Math.sqrt(squares / (n - 2) / sxx) : null };
}

/**
 * Residual that a fit foresees.
 *
 * @param fit as `residualFit` returns it
 * @param hours since dosing, 0 to 720 h
 * @returns mg/L
 * @throws RangeError outside the range
 */
export function fittedResidualMgPerL(fit: ResidualFit, hours: number): number {
	valueWithin("time since dosing in h", hours, 0, 720);
	if (fit.order === "first") return fit.initialMgPerL * Math.exp(-fit.k * hours);
	return secondOrderResidualMgPerL({ initialMgPerL: fit.initialMgPerL, kLPerMgMin: fit.k / 60, minutes: hours * 60 });
}

/**
 * Decay of one fill from its own readings, by least squares.
 *
 * @param readings of one fill at two or more different times; readings of 0 have no logarithm and are left out here, so a fill that
 *   went to 0 decays faster than this says: use the belief for it
 * @param order "first": ln C against t; "second": 1/C against t
 * @returns the fit, or that fewer than two usable readings at different times are there; a rising line is held level
 * @throws RangeError for a time outside 0.5 to 720 h or a residual outside 0 to 20 mg/L
 * Source: ordinary least squares; second order after Ali et al. 2015.
 */
export function residualFit(readings: readonly ResidualReading[], order: "first" | "second"): FitResult {
	for (const { hours, residualMgPerL } of readings) {
		valueWithin("time since dosing in h", hours, 0.5, 720);
		valueWithin("residual in mg/L", residualMgPerL, 0, 20);
	}
	const usable = readings.filter(({ residualMgPerL }) => residualMgPerL > 0);
	if (new Set(usable.map(({ hours }) => hours)).size < 2) return { kind: "tooFewReadings" };
	const transform = order === "first" ? Math.log : (c: number) => 1 / c;
	const { slope, intercept, meanY, slopeError } = line(
		usable.map(({ hours, residualMgPerL }) => [hours, transform(residualMgPerL)] as const),
	);
	const k = Math.max(0, order === "first" ? -slope : slope);
	const level = k === 0 ? meanY : intercept;
	const initialMgPerL = order === "first" ? Math.exp(level) : 1 / level;
	// A steep second-order line can meet time 0 below nothing: no concentration fits it.
	if (!(initialMgPerL > 0 && initialMgPerL <= 100)) return { kind: "tooFewReadings" };
	const fit: ResidualFit = { order, initialMgPerL, k, kStandardError: slopeError, rmsMgPerL: 0 };
	const squares = usable.reduce((sum, r) => sum + (fittedResidualMgPerL(fit, r.hours) - r.residualMgPerL) ** 2, 0);
	return { kind: "fit", fit: { ...fit, rmsMgPerL: Math.sqrt(squares / usable.length) } };
}
