import { upperTail } from "./normal.js";
import type { StrengthTest } from "./strength-test.js";

// Looked up once: where the global object is sandboxed, each `Math.` in these loops costs as much as the logarithm itself.
const { log, max, min } = Math;

/** What a test's reading was worth, given the prior and the tests before it. */
export interface TestEvidence {
	/** Chance of this reading before it was seen (a density per unit of the logarithm for a number). */
	readonly evidence: number;
	/** Product of the evidence so far. */
	readonly cumulative: number;
	/** How likely a reading as unlikely as this was: the evidence for a coarse band, a two-sided tail otherwise. */
	readonly surprise: number;
	/** Surprise below 0.02: look at the test, its dilution and the batch before believing any of them. */
	readonly doubtful: boolean;
	/** Surprise below 0.0001: what was believed before and this reading are hardly both right. */
	readonly contradicts: boolean;
}

/** Below this a reading isn't absorbed in silence. Source: own choice. */
const DOUBTFUL_BELOW = 0.02;
/** Below this a jar isn't dosed by before another reading has said who is right. Source: own choice. */
const CONTRADICTS_BELOW = 1e-4;

/**
 * Chance that a fine test (a number, a drop count) would have read lower than it did.
 *
 * @param test the test
 * @param strengthsGPerL strength at each node when it was tested, g/L
 * @param weights what was believed before the test
 * @param sumOfWeights their sum
 * @returns 0 to 1; undefined for a coarse test, where the chance of the band itself tells as much
 */
export function chanceOfLowerReading(
	test: StrengthTest,
	strengthsGPerL: Float64Array,
	weights: Float64Array,
	sumOfWeights: number,
): number | undefined {
	const read = test.kind === "number" ? test.measuredGPerL : test.fineReadingGPerL;
	if (read === undefined) return undefined;
	const least = sumOfWeights * 1e-9;
	let lower = 0;
	for (let node = 0; node < weights.length; node++) {
		const weight = weights[node]!;
		if (weight < least) continue;
		lower += weight * upperTail(log(max(strengthsGPerL[node]!, 1e-9) / read) / test.logSd);
	}
	return lower / sumOfWeights;
}

/**
 * The evidence of one test, marked doubtful if the reading was a surprise.
 *
 * @param evidence chance of the reading before it was seen
 * @param cumulative product of all evidence, this test's included
 * @param lower chance of a lower reading, for a fine test: its own chance is small even when it is right, so its surprise is
 * 2·min(chance of a lower one, chance of a higher one)
 */
export function testEvidence(evidence: number, cumulative: number, lower: number | undefined): TestEvidence {
	const surprise = lower === undefined ? evidence : 2 * min(lower, max(0, 1 - lower));
	const doubtful = surprise < DOUBTFUL_BELOW;
	return { evidence, cumulative, surprise, doubtful, contradicts: surprise < CONTRADICTS_BELOW };
}
