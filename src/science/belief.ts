import { type StrengthCurve, strengthsOverGridGPerL } from "./belief-curve.js";
import { boxHolding, type GridBox, initialsOfBox, multipliersOfBox, priorWeights, reachesEdge, wideBox } from "./belief-grid.js";
import { checkedPrior, type Prior } from "./prior.js";
import { multiplyByReading, type StrengthTest } from "./strength-test.js";
import { chanceOfLowerReading, type TestEvidence, testEvidence } from "./test-evidence.js";

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

const WIDE_NODES = 57;
const FINE_NODES = 81;
/** A grid is laid anew once a closer one would have steps below this share of its own. */
const CLOSER_BY = 0.7;

/** The tests in an order of their own, so that the order in which they were typed in can't matter by a single bit. */
function inOrderOfAge(tests: readonly StrengthTest[]): StrengthTest[] {
	if (tests.length < 2) return [...tests];
	const age = ({ exposure }: StrengthTest) => exposure.equivalentDaysAt25C;
	return [...tests].sort((a, b) => age(a) - age(b) || (JSON.stringify(a) < JSON.stringify(b) ? -1 : 1));
}

/** Weights over a box, and their sum. */
interface Laid {
	readonly box: GridBox;
	readonly weights: Float64Array;
	sum: number;
}

/** The prior over a box, times the chances of the readings of some tests. */
function laidOver(box: GridBox, prior: Prior, curve: StrengthCurve, tests: readonly StrengthTest[]): Laid {
	const weights = priorWeights(prior, box);
	let sum = 0;
	for (let node = 0; node < weights.length; node++) sum += weights[node]!;
	const laid = { box, weights, sum };
	for (const test of tests) take(laid, test, strengthsOver(box, curve, test));
	return laid;
}

const strengthsOver = (box: GridBox, curve: StrengthCurve, { exposure }: StrengthTest): Float64Array =>
	strengthsOverGridGPerL(curve, initialsOfBox(box), multipliersOfBox(box), exposure);

/** Multiplies a test's chances in; returns the mean chance before. */
function take(laid: Laid, test: StrengthTest, strengths: Float64Array): number {
	const after = multiplyByReading(test, strengths, laid.weights);
	const evidence = after / laid.sum;
	laid.sum = after;
	if (after > 1e-100 || !(after > 0)) return evidence;
	// A reading far out of line leaves next to nothing: scale up before the next one would round it to 0.
	for (let node = 0; node < laid.weights.length; node++) laid.weights[node]! /= after;
	laid.sum = 1;
	return evidence;
}

/** The same belief on a closer grid, or on the wide one first if it has come to reach over the edge of the present one. */
function closerLaid(laid: Laid, wide: GridBox, prior: Prior, curve: StrengthCurve, tests: readonly StrengthTest[]): Laid {
	let found = laid;
	if (laid.box !== wide && reachesEdge(laid.weights, laid.box)) found = laidOver(wide, prior, curve, tests);
	for (let look = 0; look < 4; look++) {
		const { box } = found;
		const closer = boxHolding(found.weights, box, FINE_NODES);
		const much = closer.lnInitialStep < CLOSER_BY * box.lnInitialStep || closer.lnRateStep < CLOSER_BY * box.lnRateStep;
		if (!much) break;
		found = laidOver(closer, prior, curve, tests);
	}
	return found;
}

/**
 * What is believed of a batch after its tests, by Bayes' rule on a grid over (ln initial strength, ln rate multiplier).
 *
 * The grid starts over ±6 prior sd (57 by 57) and is laid anew, 81 by 81, around what is left whenever a test has narrowed the
 * belief. Starting from the prior each time costs less than a millisecond a test, so prior and tests are all that must be kept.
 *
 * @param prior belief before any test
 * @param curve the strength curve
 * @param tests any number of tests, in any order
 * @returns the belief; the same to the last bit for any order of the tests
 * @throws RangeError for a prior outside its ranges, or for a reading that is impossible under it, which none of `strengthTestOf` is
 *
 * Source: Bayes' rule with an interval-censored lognormal test; grid approximation as in Gelman et al. 2013, Bayesian Data
 * Analysis, 3rd ed., section 3.7.
 */
export function beliefAfter(prior: Prior, curve: StrengthCurve, tests: readonly StrengthTest[]): Belief {
	checkedPrior(prior);
	const ordered = inOrderOfAge(tests);
	const wide = wideBox(prior, WIDE_NODES);
	const evidence: TestEvidence[] = [];
	// A prior without tests stands on the fine grid too: a test that says nothing must leave it as it is, to the last bit.
	let laid = closerLaid(laidOver(wide, prior, curve, []), wide, prior, curve, []);
	let cumulative = 1;
	ordered.forEach((test, k) => {
		const strengths = strengthsOver(laid.box, curve, test);
		const lower = chanceOfLowerReading(test, strengths, laid.weights, laid.sum);
		const own = take(laid, test, strengths);
		if (!(own > 0)) {
			throw new RangeError(
				`the reading after ${test.exposure.equivalentDaysAt25C} equivalent days is impossible for a batch made at about ` +
					`${prior.medianInitialGPerL} g/L: check reading, dilution and batch`,
			);
		}
		cumulative *= own;
		evidence.push(testEvidence(own, cumulative, lower));
		laid = closerLaid(laid, wide, prior, curve, ordered.slice(0, k + 1));
	});
	const weights: number[] = [];
	for (let node = 0; node < laid.weights.length; node++) weights.push(laid.weights[node]! / laid.sum);
	return { prior, curve, tests: ordered, evidence, box: laid.box, weights };
}
