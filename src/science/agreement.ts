import { valueWithin } from "./valid-range.js";
import { wholeWithin } from "./whole-number.js";
import { zOfConfidence } from "./wilson.js";

/** Weights for how far two readings may lie apart. */
export type KappaWeights = "none" | "linear" | "quadratic";

/** Agreement of two readers. */
export interface Agreement {
	/** Share (weighted) on which both agree. */
	readonly observed: number;
	readonly expected: number;
	/** null when chance alone would agree always: one category only. */
	readonly kappa: number | null;
	/** Standard error of kappa for its interval; null with kappa. */
	readonly standardError: number | null;
	readonly low: number | null;
	readonly high: number | null;
	/** Agreement adjusted for prevalence and bias, unweighted: (k·po - 1)/(k - 1), that is 2·po - 1 for two categories. */
	readonly pabak: number | null;
}

function weightOf(weights: KappaWeights, i: number, j: number, size: number): number {
	if (weights === "none") return i === j ? 1 : 0;
	const apart = Math.abs(i - j) / (size - 1);
	return weights === "linear" ? 1 - apart : 1 - apart * apart;
}

function sharesOf(table: readonly (readonly number[])[]): number[][] {
	const size = wholeWithin("categories", table.length, 1, 50);
	let total = 0;
	for (const row of table) {
		if (row.length !== size)
			throw new RangeError(`agreement table must be square, ${size} by ${size}, got a row of ${row.length}`);
		for (const count of row) total += wholeWithin("count of the agreement table", count, 0, 1e9);
	}
	valueWithin("pairs of readings", total, 1, 1e12);
	return table.map((row) => row.map((count) => count / total));
}

/**
 * Cohen's kappa of a square table, plain or weighted.
 *
 * @param table counts: row the first reading, column the second, in the same order of categories; 1 to 50 categories
 * @param options `weights` (default "none"), `confidence` 0.5 to 0.9999 (default 0.95)
 * @returns observed and expected agreement, kappa with standard error and interval, PABAK; report all three, kappa falls with a rare
 *   category though readers agree
 * @throws RangeError for a table that isn't square, is empty or holds parts of counts
 * A re-test is of the same water within about an hour, or of a duplicate sample: the residual falls meanwhile.
 * Source: Cohen 1960; standard error Fleiss, Cohen & Everitt 1969, Psychol. Bull. 72:323; PABAK Byrt, Bishop & Carlin 1993.
 */
export function agreement(
	table: readonly (readonly number[])[],
	options: { readonly weights?: KappaWeights; readonly confidence?: number } = {},
): Agreement {
	const p = sharesOf(table);
	const size = p.length;
	const weights = options.weights ?? "none";
	const row = p.map((cells) => cells.reduce((sum, cell) => sum + cell, 0));
	const column = p.map((_, j) => p.reduce((sum, cells) => sum + cells[j]!, 0));
	const w = p.map((cells, i) => cells.map((_, j) => (size === 1 ? 1 : weightOf(weights, i, j, size))));
	const sumOver = (value: (i: number, j: number) => number): number =>
		p.reduce((sum, cells, i) => sum + cells.reduce((inner, _, j) => inner + value(i, j), 0), 0);
	const observed = sumOver((i, j) => w[i]![j]! * p[i]![j]!);
	const expected = sumOver((i, j) => w[i]![j]! * row[i]! * column[j]!);
	const diagonal = sumOver((i, j) => (i === j ? p[i]![j]! : 0));
	const pabak = size === 1 ? null : (size * diagonal - 1) / (size - 1);
	if (1 - expected < 1e-12) return { observed, expected, kappa: null, standardError: null, low: null, high: null, pabak };

	const kappa = (observed - expected) / (1 - expected);
	const rowWeight = w.map((cells) => cells.reduce((sum, weight, j) => sum + weight * column[j]!, 0));
	const columnWeight = w.map((_, j) => w.reduce((sum, cells, i) => sum + cells[j]! * row[i]!, 0));
	const spread = sumOver((i, j) => p[i]![j]! * (w[i]![j]! - (rowWeight[i]! + columnWeight[j]!) * (1 - kappa)) ** 2);
	const pairs = table.flat().reduce((sum, count) => sum + count, 0);
	const variance = (spread - (kappa - expected * (1 - kappa)) ** 2) / (pairs * (1 - expected) ** 2);
	const standardError = Math.sqrt(Math.max(0, variance));
	const half = zOfConfidence(options.confidence ?? 0.95) * standardError;
	return { observed, expected, kappa, standardError, low: kappa - half, high: kappa + half, pabak };
}

/** A recount against a report. */
export interface Verification {
	/** Recounted over reported; under 1 is over-reporting. */
	readonly factor: number;
	readonly verdict: "acceptable" | "overReported" | "underReported";
}

/**
 * Verification factor of a reported count.
 *
 * @param count `recounted` 0 or more, `reported` 1 or more, whole
 * @returns factor; acceptable within 0.90 to 1.10, both ends included
 * @throws RangeError outside these ranges
 * Source: WHO data quality review 2017, module 3 (factor; the 10 % from memory).
 */
export function verification(count: { readonly recounted: number; readonly reported: number }): Verification {
	const recounted = wholeWithin("recounted", count.recounted, 0, 1e9);
	const factor = recounted / wholeWithin("reported", count.reported, 1, 1e9);
	if (factor < 0.9 - 1e-12) return { factor, verdict: "overReported" };
	return { factor, verdict: factor > 1.1 + 1e-12 ? "underReported" : "acceptable" };
}
