import type { Prior } from "./prior.js";

// Looked up once: where the global object is sandboxed, each `Math.` in these loops costs as much as the logarithm itself.
const { exp, log, max, min, sqrt } = Math;

/** An even grid over ln(initial strength in g/L) and ln(rate multiplier), with as many nodes on each axis. */
export interface GridBox {
	readonly nodes: number;
	readonly lnInitialFrom: number;
	readonly lnInitialStep: number;
	readonly lnRateFrom: number;
	readonly lnRateStep: number;
}

/** Where a prior reaches to, in its own standard deviations: what lies beyond is below 1e-8. */
const REACH_SD = 6;
/** Nodes below this share of the heaviest one (5.7 sd of a normal) may be left out of a closer box. */
const NEGLIGIBLE = 1e-7;

/** The box over everything a prior can hold, ±6 sd on both axes. */
export const wideBox = (prior: Prior, nodes: number): GridBox => ({
	nodes,
	lnInitialFrom: log(prior.medianInitialGPerL) - REACH_SD * prior.lnInitialSd,
	lnInitialStep: (2 * REACH_SD * prior.lnInitialSd) / (nodes - 1),
	lnRateFrom: log(prior.medianRateMultiplier) - REACH_SD * prior.lnRateSd,
	lnRateStep: (2 * REACH_SD * prior.lnRateSd) / (nodes - 1),
});

function exponentials(from: number, step: number, nodes: number): Float64Array {
	const values = new Float64Array(nodes);
	for (let node = 0; node < nodes; node++) values[node] = exp(from + step * node);
	return values;
}

/** Initial strength of each row of a box, g/L as Cl2. */
export const initialsOfBox = (box: GridBox): Float64Array => exponentials(box.lnInitialFrom, box.lnInitialStep, box.nodes);

/** Rate multiplier of each column of a box. */
export const multipliersOfBox = (box: GridBox): Float64Array => exponentials(box.lnRateFrom, box.lnRateStep, box.nodes);

/** Probability that a normal value lies in each cell of an axis, by the midpoint rule. */
function axisWeights(from: number, step: number, nodes: number, mean: number, sd: number): Float64Array {
	const height = step / (sd * sqrt(2 * Math.PI));
	const weights = new Float64Array(nodes);
	for (let node = 0; node < nodes; node++) weights[node] = height * exp(-0.5 * ((from + step * node - mean) / sd) ** 2);
	return weights;
}

/** A prior's probability in each cell of a box, row by row; over the wide box they sum to 1. */
export function priorWeights(prior: Prior, box: GridBox): Float64Array {
	const { nodes } = box;
	const meanInitial = log(prior.medianInitialGPerL);
	const rows = axisWeights(box.lnInitialFrom, box.lnInitialStep, nodes, meanInitial, prior.lnInitialSd);
	const columns = axisWeights(box.lnRateFrom, box.lnRateStep, nodes, log(prior.medianRateMultiplier), prior.lnRateSd);
	const weights = new Float64Array(nodes * nodes);
	for (let row = 0; row < nodes; row++) {
		const start = row * nodes;
		for (let column = 0; column < nodes; column++) weights[start + column] = rows[row]! * columns[column]!;
	}
	return weights;
}

/**
 * The smallest box around all nodes that matter, one old step wider on each side.
 *
 * @param weights over the old box, row by row
 * @param box the old box
 * @param nodes nodes per axis of the new one
 * @returns a box within the old one
 */
export function boxHolding(weights: Float64Array, box: GridBox, nodes: number): GridBox {
	let heaviest = 0;
	for (let node = 0; node < weights.length; node++) if (weights[node]! > heaviest) heaviest = weights[node]!;
	const least = heaviest * NEGLIGIBLE;
	const last = box.nodes - 1;
	let firstRow = last;
	let lastRow = 0;
	let firstColumn = last;
	let lastColumn = 0;
	for (let row = 0; row <= last; row++) {
		for (let column = 0; column <= last; column++) {
			if (weights[row * box.nodes + column]! < least) continue;
			if (row < firstRow) firstRow = row;
			lastRow = row;
			if (column < firstColumn) firstColumn = column;
			if (column > lastColumn) lastColumn = column;
		}
	}
	const rowFrom = max(0, firstRow - 1);
	const rowUntil = min(last, lastRow + 1);
	const columnFrom = max(0, firstColumn - 1);
	const columnUntil = min(last, lastColumn + 1);
	return {
		nodes,
		lnInitialFrom: box.lnInitialFrom + box.lnInitialStep * rowFrom,
		lnInitialStep: (box.lnInitialStep * (rowUntil - rowFrom)) / (nodes - 1),
		lnRateFrom: box.lnRateFrom + box.lnRateStep * columnFrom,
		lnRateStep: (box.lnRateStep * (columnUntil - columnFrom)) / (nodes - 1),
	};
}

/** Whether weights at the rim of a box are more than negligible: what they belong to may go on outside. */
export function reachesEdge(weights: Float64Array, { nodes }: GridBox): boolean {
	let heaviest = 0;
	for (let node = 0; node < weights.length; node++) if (weights[node]! > heaviest) heaviest = weights[node]!;
	const last = nodes - 1;
	for (let k = 0; k < nodes; k++) {
		const rim = max(weights[k]!, weights[last * nodes + k]!, weights[k * nodes]!, weights[k * nodes + last]!);
		if (rim > 1e-5 * heaviest) return true;
	}
	return false;
}
