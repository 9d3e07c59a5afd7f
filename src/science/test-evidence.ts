import { normalCdf } from "./normal.js";
import type { StrengthTest } from "./strength-test.js";

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
}

/** Below this a reading isn't absorbed in silence. Source: own choice. */
const DOUBTFUL_BELOW = 0.02;

/**
 * The evidence of one test over a grid.
 *
 * @param test the test
 * @param strengthsGPerL strength at each node when it was tested, g/L
 * @param weights what was believed before the test
 * @param sumOfWeights their sum
 * @param evidence mean over them of the chance of the reading
 * @param cumulative product of all evidence, this test's included
 * @returns the evidence, marked doubtful if the reading was a surprise. A fine reading (a number, a drop count) has a small
 * chance even when it is right, so its surprise is 2·min(chance of a lower one, chance of a higher one).
 */
export function evidenceOf(
	test: StrengthTest,
	strengthsGPerL: Float64Array,
	weights: Float64Array,
	sumOfWeights: number,
	evidence: number,
	cumulative: number,
): TestEvidence {
	const read = test.kind === "number" ? test.measuredGPerL : test.fineReadingGPerL;
	let surprise = evidence;
	if (read !== undefined) {
		let lower = 0;
		for (let node = 0; node < weights.length; node++) {
			const share = weights[node]! / sumOfWeights;
			if (share > 1e-9) lower += share * normalCdf(Math.log(read / Math.max(strengthsGPerL[node]!, 1e-9)) / test.logSd);
		}
		surprise = 2 * Math.min(lower, Math.max(0, 1 - lower));
	}
	return { evidence, cumulative, surprise, doubtful: surprise < DOUBTFUL_BELOW };
}
