import { type StrengthCurve, strengthsOverGridGPerL } from "./belief-curve.js";
import { boxHolding, type GridBox, initialsOfBox, multipliersOfBox, priorWeights, wideBox } from "./belief-grid.js";
import { checkedPrior, type Prior } from "./prior.js";
import { multiplyByReading, type StrengthTest } from "./strength-test.js";
import { evidenceOf, type TestEvidence } from "./test-evidence.js";

/** What is believed of a batch after its tests: weights over a grid of initial strength and rate. Plain values throughout. */
export interface Belief {
	readonly prior: Prior;
	readonly curve: StrengthCurve;
	/** In the order in which the batch lived through them. */
	readonly tests: readonly StrengthTest[];
	/** One for each test, in the same order. */
	readonly evidence: readonly TestEvidence[];
	readonly box: GridBox;
	/** Row by row (a row shares its initial strength); they sum to 1. */
	readonly weights: readonly number[];
}

const WIDE_NODES = 33;
const FINE_NODES = 81;

/** The tests in an order of their own, so that the order in which they were typed in can't matter by a single bit. */
function inOrderOfAge(tests: readonly StrengthTest[]): StrengthTest[] {
	if (tests.length < 2) return [...tests];
	const age = ({ exposure }: StrengthTest) => exposure.equivalentDaysAt25C;
	return [...tests].sort((a, b) => age(a) - age(b) || (JSON.stringify(a) < JSON.stringify(b) ? -1 : 1));
}

/** Weights over one box after all tests, and their sum; each test's evidence goes to `note` if that is given. */
function weightsOver(
	box: GridBox,
	prior: Prior,
	curve: StrengthCurve,
	tests: readonly StrengthTest[],
	note?: (evidence: TestEvidence) => void,
): { weights: Float64Array; sum: number } {
	const weights = priorWeights(prior, box);
	const initials = initialsOfBox(box);
	const multipliers = multipliersOfBox(box);
	let sum = 0;
	for (let node = 0; node < weights.length; node++) sum += weights[node]!;
	let cumulative = 1;
	for (const test of tests) {
		const strengths = strengthsOverGridGPerL(curve, initials, multipliers, test.exposure);
		const before = note ? weights.slice() : weights;
		const after = multiplyByReading(test, strengths, weights);
		const evidence = after / sum;
		if (!(evidence > 0)) {
			throw new RangeError(
				`the reading after ${test.exposure.equivalentDaysAt25C} equivalent days is impossible for a batch made at about ` +
					`${prior.medianInitialGPerL} g/L: check reading, dilution and batch`,
			);
		}
		cumulative *= evidence;
		note?.(evidenceOf(test, strengths, before, sum, evidence, cumulative));
		sum = after;
		if (sum > 1e-100) continue;
		// A reading far out of line leaves next to nothing: scale up before the next one would round it to 0.
		for (let node = 0; node < weights.length; node++) weights[node]! /= after;
		sum = 1;
	}
	return { weights, sum };
}

/**
 * What is believed of a batch after its tests, by Bayes' rule on a grid over (ln initial strength, ln rate multiplier).
 *
 * A wide grid (33 by 33 over ±6 prior sd) gives each test's evidence and finds where the belief lies; a fine one (81 by 81) is
 * laid over just that place. Starting anew from the prior costs less than a millisecond, so prior and tests are all that needs
 * to be kept.
 *
 * @param prior belief before any test
 * @param curve the strength curve
 * @param tests any number of tests, in any order
 * @returns the belief; the same to the last bit for any order of the tests
 * @throws RangeError for a prior outside its ranges, or for a reading that is impossible under it
 *
 * Source: Bayes' rule with an interval-censored lognormal test; grid approximation as in Gelman et al. 2013, Bayesian Data
 * Analysis, 3rd ed., section 3.7.
 */
export function beliefAfter(prior: Prior, curve: StrengthCurve, tests: readonly StrengthTest[]): Belief {
	checkedPrior(prior);
	const ordered = inOrderOfAge(tests);
	const evidence: TestEvidence[] = [];
	let box = wideBox(prior, WIDE_NODES);
	let found = weightsOver(box, prior, curve, ordered, (note) => evidence.push(note));
	// Many good tests leave a belief that fills a small part of the wide box: look again before the fine grid is laid.
	for (let look = 0; look < 3; look++) {
		const closer = boxHolding(found.weights, box, WIDE_NODES);
		if (closer.lnInitialStep > box.lnInitialStep / 4 && closer.lnRateStep > box.lnRateStep / 4) break;
		box = closer;
		found = weightsOver(box, prior, curve, ordered);
	}
	box = boxHolding(found.weights, box, FINE_NODES);
	found = weightsOver(box, prior, curve, ordered);
	const weights: number[] = [];
	for (let node = 0; node < found.weights.length; node++) weights.push(found.weights[node]! / found.sum);
	return { prior, curve, tests: ordered, evidence, box, weights };
}
