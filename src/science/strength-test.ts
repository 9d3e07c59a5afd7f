import type { ExposureSum } from "./belief-curve.js";
import { upperTail } from "./normal.js";

// Looked up once: where the global object is sandboxed, each `Math.` in these loops costs as much as the logarithm itself.
const { exp, log, max, sqrt } = Math;

/**
 * One test as the belief takes it: how likely this very reading is, as a step function of the strength the kit measured.
 *
 * The measured strength is lognormal around the true one. Between two neighbouring edges the chance that the reading is given
 * is constant: `chances[0]` below the first edge, `chances[k]` above the k-th, so there is one chance more than edges.
 */
export interface BandTest {
	readonly kind: "band";
	readonly exposure: ExposureSum;
	/** Standard deviation of the logarithm of measured over true strength, above 0. */
	readonly logSd: number;
	/** Ascending, g/L as Cl2, each above 0 and finite. */
	readonly edgesGPerL: readonly number[];
	/** 0 to 1. */
	readonly chances: readonly number[];
	/** Middle of a reading that covers a small part of the scale (a drop count), g/L; left out for colour bands. */
	readonly fineReadingGPerL?: number;
	/** Left out: the reading surely came from this jar at this dilution, so that one may be impossible. */
	readonly gross?: GrossError;
}

/** A reading that has nothing to do with the jar: another jar, another dilution, a slip of the pen. */
export interface GrossError {
	/** Chance of it, 0 to below 1. */
	readonly share: number;
	/** Bands of the kit: it falls into any of them alike. */
	readonly bands: number;
}

/** A test that reads a number: its density in the logarithm of the measured strength. */
export interface NumberTest {
	readonly kind: "number";
	readonly exposure: ExposureSum;
	readonly logSd: number;
	/** Measured strength of the stock, g/L as Cl2, above 0. */
	readonly measuredGPerL: number;
	/** Chance, 0 to below 1, that the number has nothing to do with the sample. */
	readonly grossShare: number;
	/** Logarithm of the highest over the lowest number that can be shown: a gross error falls anywhere in it. */
	readonly grossLnSpan: number;
}

/** A strength test as the belief takes it. */
export type StrengthTest = BandTest | NumberTest;

/** Below this a strength counts as this: the logarithm needs a floor where sun has used up everything. */
const FLOOR_G_PER_L = 1e-9;

/**
 * Chance (or density, for a number) of a test's reading if the true strength is the given one.
 *
 * @param test the test
 * @param strengthGPerL true strength of the stock when it was tested, g/L as Cl2, at least 0
 * @returns 0 to 1 for a band, accurate in relative terms far out in either tail; a density at least 0 for a number
 *
 * Source: interval-censored lognormal likelihood; any statistics text on censored data.
 */
export function chanceOfReading(test: StrengthTest, strengthGPerL: number): number {
	const strengths = Float64Array.of(strengthGPerL);
	const weights = Float64Array.of(1);
	multiplyByReading(test, strengths, weights);
	return weights[0]!;
}

/** Multiplies each weight by the chance of the reading at that node's strength, in place, and returns their sum. */
export function multiplyByReading(test: StrengthTest, strengthsGPerL: Float64Array, weights: Float64Array): number {
	return test.kind === "band" ? multiplyByBand(test, strengthsGPerL, weights) : multiplyByNumber(test, strengthsGPerL, weights);
}

function multiplyByBand(test: BandTest, strengths: Float64Array, weights: Float64Array): number {
	const count = test.edgesGPerL.length;
	const inverse = 1 / test.logSd;
	const scaledEdges = Float64Array.from(test.edgesGPerL, (edge) => log(edge) * inverse);
	const jumps = Float64Array.from(test.edgesGPerL, (_, k) => test.chances[k + 1]! - test.chances[k]!);
	const bottom = test.chances[0]!;
	const top = test.chances[count]!;
	const fromJar = 1 - (test.gross?.share ?? 0);
	const gross = test.gross ? test.gross.share / test.gross.bands : 0;
	const centre = count === 0 ? 0 : (scaledEdges[0]! + scaledEdges[count - 1]!) / 2;
	let sum = 0;
	for (let node = 0; node < weights.length; node++) {
		const weight = weights[node]!;
		if (weight === 0) continue;
		const strength = strengths[node]!;
		const scaled = log(max(strength, FLOOR_G_PER_L)) * inverse;
		// Summed from the side on which the tails are small, so that a far-off reading keeps its digits.
		let chance: number;
		if (scaled < centre) {
			chance = bottom;
			for (let k = 0; k < count; k++) chance += jumps[k]! * upperTail(scaledEdges[k]! - scaled);
		} else {
			chance = top;
			for (let k = 0; k < count; k++) chance -= jumps[k]! * upperTail(scaled - scaledEdges[k]!);
		}
		const product = weight * (chance > 0 ? fromJar * chance + gross : gross);
		weights[node] = product;
		sum += product;
	}
	return sum;
}

function multiplyByNumber(test: NumberTest, strengths: Float64Array, weights: Float64Array): number {
	const inverse = 1 / test.logSd;
	const scaledReading = log(test.measuredGPerL) * inverse;
	const height = ((1 - test.grossShare) * inverse) / sqrt(2 * Math.PI);
	const gross = test.grossShare / test.grossLnSpan;
	let sum = 0;
	for (let node = 0; node < weights.length; node++) {
		const strength = strengths[node]!;
		const z = scaledReading - log(max(strength, FLOOR_G_PER_L)) * inverse;
		const product = weights[node]! * (height * exp(-0.5 * z * z) + gross);
		weights[node] = product;
		sum += product;
	}
	return sum;
}
