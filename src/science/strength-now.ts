import type { Belief } from "./belief.js";
import { type ExposureSum, strengthsOverGridGPerL } from "./belief-curve.js";
import { initialsOfBox, multipliersOfBox } from "./belief-grid.js";
import { valueWithin } from "./valid-range.js";

// Looked up once: where the global object is sandboxed, each `Math.` in these loops costs as much as the logarithm itself.
const { abs, max, min } = Math;

/** What is believed of a strength at one moment. */
export interface StrengthNow {
	readonly medianGPerL: number;
	/** 5 % of the belief lies below. */
	readonly lowGPerL: number;
	/** 5 % of the belief lies above. */
	readonly highGPerL: number;
	readonly meanGPerL: number;
	/** Chance, 0 to 1, that the strength is below a limit in g/L. */
	chanceUnder(limitGPerL: number): number;
	/** Strength in g/L below which the given chance, 0.001 to 0.999, lies. */
	quantileGPerL(chance: number): number;
}

/**
 * The heavy cells of a grid, each with the strengths it reaches over: centre ± (wide + narrow), a spread along either axis. Density
 * is linear within a cell (`tilt`, towards higher strength), so that a sum over cells errs only in the third order of the step.
 */
interface Cells {
	readonly count: number;
	/** No cell reaches below or above these. */
	readonly lowest: number;
	readonly highest: number;
	readonly weight: Float64Array;
	readonly centre: Float64Array;
	readonly wide: Float64Array;
	readonly narrow: Float64Array;
	readonly tilt: Float64Array;
}

/** Cells lighter than this are left out. */
const NEGLIGIBLE = 1e-12;

function cellsOf(belief: Belief, strengths: Float64Array): Cells {
	const { weights } = belief;
	const { nodes } = belief.box;
	const weight = new Float64Array(nodes * nodes);
	const centre = new Float64Array(nodes * nodes);
	const wide = new Float64Array(nodes * nodes);
	const narrow = new Float64Array(nodes * nodes);
	const tilt = new Float64Array(nodes * nodes);
	let count = 0;
	let lowest = Number.POSITIVE_INFINITY;
	let highest = 0;
	for (let row = 0; row < nodes; row++) {
		const below = row > 0 ? nodes : 0;
		const above = row < nodes - 1 ? nodes : 0;
		for (let column = 0; column < nodes; column++) {
			const node = row * nodes + column;
			const own = weights[node]!;
			if (own < NEGLIGIBLE) continue;
			const left = node - (column > 0 ? 1 : 0);
			const right = node + (column < nodes - 1 ? 1 : 0);
			const down = node - below;
			const up = node + above;
			// Half a cell's extent in strength along either axis, with its sign, from the neighbours.
			const along = (strengths[right]! - strengths[left]!) / (2 * (right - left));
			const across = ((strengths[up]! - strengths[down]!) * nodes) / (2 * (up - down));
			const alongTilt = (weights[right]! - weights[left]!) / (4 * own);
			const acrossTilt = (weights[up]! - weights[down]!) / (4 * own);
			const alongIsWide = abs(along) > abs(across);
			const wideSigned = alongIsWide ? along : across;
			const narrowSigned = alongIsWide ? across : along;
			const wideTilt = alongIsWide ? alongTilt : acrossTilt;
			const narrowTilt = alongIsWide ? acrossTilt : alongTilt;
			// A cell's weight from the value at its middle; the narrow side's slope counts as a shift of the middle.
			weight[count] = own + (weights[right]! + weights[left]! + weights[up]! + weights[down]! - 4 * own) / 24;
			centre[count] = strengths[node]! + (narrowSigned * max(-1, min(1, narrowTilt))) / 3;
			wide[count] = abs(wideSigned);
			narrow[count] = abs(narrowSigned);
			tilt[count] = max(-1, min(1, wideSigned > 0 ? wideTilt : -wideTilt));
			const reach = wide[count]! + narrow[count]!;
			lowest = min(lowest, centre[count]! - reach);
			highest = max(highest, centre[count]! + reach);
			count++;
		}
	}
	return { count, lowest, highest, weight, centre, wide, narrow, tilt };
}

/** Share of all weight below a strength. */
function shareBelow(cells: Cells, strengthGPerL: number): number {
	let share = 0;
	for (let cell = 0; cell < cells.count; cell++) {
		const offset = strengthGPerL - cells.centre[cell]!;
		const wide = cells.wide[cell]!;
		const narrow = cells.narrow[cell]!;
		const reach = wide + narrow;
		if (offset <= -reach) continue;
		const weight = cells.weight[cell]!;
		if (offset >= reach) {
			share += weight;
			continue;
		}
		// The sum of two even spreads, and what the slope of the density along the wide one adds.
		let below: number;
		if (abs(offset) <= wide - narrow) below = 0.5 + (0.5 * offset) / wide;
		else if (offset < 0) below = (offset + reach) ** 2 / (8 * wide * narrow);
		else below = 1 - (reach - offset) ** 2 / (8 * wide * narrow);
		const within = offset / reach;
		share += weight * (below + (cells.tilt[cell]! * wide * (within * within - 1)) / (4 * reach));
	}
	return max(0, min(1, share));
}

/** Strength below which a share of the weight lies, by the Illinois form of false position. */
function strengthAtShare(cells: Cells, share: number): number {
	let low = cells.lowest;
	let high = cells.highest;
	let atLow = -share;
	let atHigh = 1 - share;
	let side = 0;
	for (let step = 0; step < 60 && high - low > 1e-7 * high; step++) {
		const guess = (low * atHigh - high * atLow) / (atHigh - atLow);
		const at = shareBelow(cells, guess) - share;
		if (abs(at) < 1e-9) return guess;
		if (at < 0) {
			low = guess;
			atLow = at;
			if (side < 0) atHigh /= 2;
			side = -1;
		} else {
			high = guess;
			atHigh = at;
			if (side > 0) atLow /= 2;
			side = 1;
		}
	}
	return (low + high) / 2;
}

/** Strength at each node of a belief's grid after an exposure, g/L, row by row. */
export const strengthsOfBelief = ({ curve, box }: Belief, exposure: ExposureSum): Float64Array =>
	strengthsOverGridGPerL(curve, initialsOfBox(box), multipliersOfBox(box), exposure);

/**
 * Chance that a batch is below a limit at a moment of its life.
 *
 * @param belief of the batch
 * @param exposure what has happened to it from its making until that moment
 * @param limitGPerL 0 to 1000 g/L as Cl2
 * @returns 0 to 1; it never falls as the exposure grows
 * @throws RangeError for a limit outside its range
 */
export function chanceUnder(belief: Belief, exposure: ExposureSum, limitGPerL: number): number {
	valueWithin("limit in g/L", limitGPerL, 0, 1000);
	return shareBelow(cellsOf(belief, strengthsOfBelief(belief, exposure)), limitGPerL);
}

/**
 * What is believed of the strength of a batch at a moment of its life.
 *
 * @param belief of the batch
 * @param exposure what has happened to it from its making until that moment
 * @returns median, mean and 90 % interval in g/L as Cl2, and functions for any limit or chance
 * @throws RangeError from the returned functions, for a limit or a chance outside its range
 *
 * Source: marginal of the grid posterior; within a cell strength is taken as linear in both logarithms.
 */
export function strengthNow(belief: Belief, exposure: ExposureSum): StrengthNow {
	const strengths = strengthsOfBelief(belief, exposure);
	const cells = cellsOf(belief, strengths);
	let meanGPerL = 0;
	for (let node = 0; node < strengths.length; node++) meanGPerL += belief.weights[node]! * strengths[node]!;
	return {
		medianGPerL: strengthAtShare(cells, 0.5),
		lowGPerL: strengthAtShare(cells, 0.05),
		highGPerL: strengthAtShare(cells, 0.95),
		meanGPerL,
		chanceUnder: (limitGPerL) => shareBelow(cells, valueWithin("limit in g/L", limitGPerL, 0, 1000)),
		quantileGPerL: (chance) => strengthAtShare(cells, valueWithin("chance", chance, 0.001, 0.999)),
	};
}

/** A single quantile of the strength, for a caller that needs nothing else. Chance 0.001 to 0.999; g/L as Cl2. */
export const strengthQuantileGPerL = (belief: Belief, exposure: ExposureSum, chance: number): number =>
	strengthAtShare(cellsOf(belief, strengthsOfBelief(belief, exposure)), valueWithin("chance", chance, 0.001, 0.999));
