import type { Belief } from "./belief.js";
import type { ExposureSum } from "./belief-curve.js";
import { chanceUnder } from "./strength-now.js";

// Looked up once: where the global object is sandboxed, each `Math.` in these loops costs as much as the logarithm itself.
const { abs, exp, floor, log, min } = Math;

/** Chance that the strength lies under a limit in g/L as Cl2, after what has happened to the batch. */
export type UnderChance = (exposure: ExposureSum, limitGPerL: number) => number;

/**
 * The chance of being under a limit, made ready to be asked many times of one belief.
 *
 * Within a row of the grid, which shares its initial strength, the batch is under the limit where its rate multiplier is above
 * one value that the closed form gives; so a row costs one logarithm instead of a look at each of its cells. For a curve that
 * isn't the standard one it looks at the cells.
 *
 * @param belief of the batch
 * @returns a function of exposure and limit; it agrees with `chanceUnder` to 0.002 (held to it by a test), and like it never
 * falls as the exposure grows
 *
 * Source: own derivation; the marginal of the grid posterior, weight spread evenly over each cell.
 */
export function underChanceOf(belief: Belief): UnderChance {
	const known = made.get(belief);
	if (known) return known;
	const under = madeReady(belief);
	made.set(belief, under);
	return under;
}

/** As long as somebody holds a belief, what was made ready for it is kept beside it. */
const made = new WeakMap<Belief, UnderChance>();

function madeReady(belief: Belief): UnderChance {
	const { curve, box, weights } = belief;
	if (typeof curve === "function") return (exposure, limitGPerL) => chanceUnder(belief, exposure, limitGPerL);
	const { nodes } = box;
	const above = weightAboveEdges(weights, nodes);
	const { solution, strengthExponent } = curve;
	const near = initialsOfParts(box, PARTS_NEAR);
	const far = initialsOfParts(box, PARTS_FAR);
	return ({ equivalentDaysAt25C, sunLossGPerL }, limitGPerL) => {
		// Where a fresh batch would just be under the limit the answer changes from all to nothing within few rows.
		const turn = (log(limitGPerL + sunLossGPerL) - box.lnInitialFrom) / box.lnInitialStep;
		let share = 0;
		for (let row = 0; row < nodes; row++) {
			const initials = abs(row - turn) < NEAR_ROWS ? near : far;
			const parts = initials.length / nodes;
			let sum = 0;
			for (let part = 0; part < parts; part++) {
				const initial = initials[row * parts + part]!;
				const hocl = initial * solution.hoclFraction;
				const ratio = initial / solution.initialStrengthGPerL;
				const perMultiplier = solution.lossRateAt25CPerDay * equivalentDaysAt25C * (strengthExponent === 2 ? ratio * ratio : 1);
				const exponent = exponentThatReaches(initial - hocl, limitGPerL - hocl, sunLossGPerL);
				const column = (log(exponent / perMultiplier) - box.lnRateFrom) / box.lnRateStep;
				sum += weightAbove(above, row * (nodes + 1), nodes, exponent === 0 ? Number.NEGATIVE_INFINITY : column);
			}
			share += sum / parts;
		}
		return min(1, share);
	};
}

/** A row is looked at in so many parts: many near the turn, where one more or less counts. */
const NEAR_ROWS = 3;
const PARTS_NEAR = 40;
const PARTS_FAR = 2;

/** Initial strength in the middle of each part of each row, g/L as Cl2. */
function initialsOfParts({ nodes, lnInitialFrom, lnInitialStep }: Belief["box"], parts: number): Float64Array {
	const initials = new Float64Array(nodes * parts);
	for (let row = 0; row < nodes; row++)
		for (let part = 0; part < parts; part++)
			initials[row * parts + part] = exp(lnInitialFrom + (row + (part + 0.5) / parts - 0.5) * lnInitialStep);
	return initials;
}

/** For each row, the weight to the right of each edge between columns: edge 0 has all of the row, the last none. */
function weightAboveEdges(weights: readonly number[], nodes: number): Float64Array {
	const above = new Float64Array(nodes * (nodes + 1));
	for (let row = 0; row < nodes; row++)
		for (let column = nodes - 1; column >= 0; column--)
			above[row * (nodes + 1) + column] = above[row * (nodes + 1) + column + 1]! + weights[row * nodes + column]!;
	return above;
}

function weightAbove(above: Float64Array, start: number, nodes: number, column: number): number {
	const edge = column + 0.5;
	if (!(edge > 0)) return above[start]!;
	if (edge >= nodes) return 0;
	const whole = floor(edge);
	const left = above[start + whole]!;
	return left + (above[start + whole + 1]! - left) * (edge - whole);
}

/**
 * Smallest decay exponent k at which O0·e^-k - Z·(1 - e^-k)/k is no more than what the limit leaves: 0 if it is so at once,
 * Infinity if it never is.
 */
function exponentThatReaches(hypochlorite: number, left: number, sunLoss: number): number {
	if (hypochlorite - sunLoss <= left) return 0;
	if (left <= 0) return sunLoss > 0 && left === 0 ? log(hypochlorite / sunLoss) : Number.POSITIVE_INFINITY;
	let high = log(hypochlorite / left);
	if (sunLoss === 0) return high;
	let low = 0;
	let k = high / 2;
	// The function falls steadily and is convex enough for Newton; the bracket is there for where it isn't.
	for (let step = 0; step < 40; step++) {
		const kept = exp(-k);
		const spread = k < 1e-4 ? 1 - k * (0.5 - k / 6) : (1 - kept) / k;
		const value = hypochlorite * kept - sunLoss * spread - left;
		if (value > 0) low = k;
		else high = k;
		const slope = -hypochlorite * kept - sunLoss * (k < 1e-4 ? -0.5 + k / 3 : (kept - spread) / k);
		const next = k - value / slope;
		const inside = next > low && next < high ? next : (low + high) / 2;
		if (abs(inside - k) < 1e-9) return inside;
		k = inside;
	}
	return k;
}

/**
 * Strength below which a chance lies: the inverse of an `UnderChance` in its limit.
 *
 * @param under of the belief
 * @param exposure what has happened to the batch
 * @param chance 0.001 to 0.999
 * @param highestGPerL a strength that the batch surely doesn't have, g/L as Cl2
 * @returns g/L as Cl2, to 1e-4 of itself
 */
export function strengthAtChanceGPerL(under: UnderChance, exposure: ExposureSum, chance: number, highestGPerL: number): number {
	let low = log(highestGPerL) - 14;
	let high = log(highestGPerL);
	for (let step = 0; step < 60 && high - low > 1e-4; step++) {
		const middle = (low + high) / 2;
		if (under(exposure, exp(middle)) < chance) low = middle;
		else high = middle;
	}
	return exp((low + high) / 2);
}
