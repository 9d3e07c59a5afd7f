import type { Belief } from "./belief.js";

/** A belief in four numbers, as a normal in each logarithm: what later batches learn from. */
export interface BeliefMoments {
	/** Mean and sd of ln(initial strength in g/L). */
	readonly lnInitialMean: number;
	readonly lnInitialSd: number;
	/** Mean and sd of ln(rate multiplier). */
	readonly lnRateMean: number;
	readonly lnRateSd: number;
}

/** Weight of each row and of each column of a belief's grid. */
function margins(belief: Belief): { rows: Float64Array; columns: Float64Array } {
	const { nodes } = belief.box;
	const rows = new Float64Array(nodes);
	const columns = new Float64Array(nodes);
	belief.weights.forEach((weight, node) => {
		rows[Math.floor(node / nodes)]! += weight;
		columns[node % nodes]! += weight;
	});
	return { rows, columns };
}

function meanAndSd(weights: Float64Array, from: number, step: number): [number, number] {
	let mean = 0;
	weights.forEach((weight, node) => {
		mean += weight * (from + step * node);
	});
	let variance = 0;
	weights.forEach((weight, node) => {
		variance += weight * (from + step * node - mean) ** 2;
	});
	return [mean, Math.sqrt(variance)];
}

/** Means and standard deviations of what is believed of a batch's initial strength and rate, in logarithms. */
export function momentsOf(belief: Belief): BeliefMoments {
	const { rows, columns } = margins(belief);
	const [lnInitialMean, lnInitialSd] = meanAndSd(rows, belief.box.lnInitialFrom, belief.box.lnInitialStep);
	const [lnRateMean, lnRateSd] = meanAndSd(columns, belief.box.lnRateFrom, belief.box.lnRateStep);
	return { lnInitialMean, lnInitialSd, lnRateMean, lnRateSd };
}

/** Position in ln(rate multiplier) below which a chance lies; weight is spread evenly over each column. */
function lnRateAt(columns: Float64Array, belief: Belief, chance: number): number {
	let sum = 0;
	let column = 0;
	while (column < columns.length - 1 && sum + columns[column]! < chance) sum += columns[column++]!;
	const within = Math.min(1, (chance - sum) / columns[column]!);
	return belief.box.lnRateFrom + belief.box.lnRateStep * (column - 0.5 + within);
}

/** What is believed of how fast a batch ages against what was expected (1): median and 90 % interval. */
export function rateMultiplierNow(belief: Belief): { readonly median: number; readonly low: number; readonly high: number } {
	const { columns } = margins(belief);
	const at = (chance: number) => Math.exp(lnRateAt(columns, belief, chance));
	return { median: at(0.5), low: at(0.05), high: at(0.95) };
}
