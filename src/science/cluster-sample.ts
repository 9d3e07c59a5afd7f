import { valueWithin } from "./valid-range.js";
import { wholeWithin } from "./whole-number.js";

/** The score that printed tables use for 95 %. */
const TABLE_Z = 1.96;

/**
 * Simple random sample for a share, from an endless population.
 *
 * @param wanted `halfWidth` of the interval as a share, 0.005 to 0.5; `share` expected, 0.01 to 0.99 (default 0.5, the largest
 *   sample); `z` 1 to 4 (default 1.96, as printed tables have it)
 * @returns sample size, not rounded
 * @throws RangeError outside these ranges
 * Source: n0 = z²·p·(1 - p)/e² (Cochran 1977).
 */
export function sampleForShare(wanted: { readonly halfWidth: number; readonly share?: number; readonly z?: number }): number {
	const share = valueWithin("expected share", wanted.share ?? 0.5, 0.01, 0.99);
	const z = valueWithin("z", wanted.z ?? TABLE_Z, 1, 4);
	return (z * z * share * (1 - share)) / valueWithin("half width (share)", wanted.halfWidth, 0.005, 0.5) ** 2;
}

/**
 * Sample reduced for a population that isn't endless.
 *
 * @param sample from an endless population, above 0
 * @param population 1 to 1e9
 * @returns sample size, not rounded
 * @throws RangeError outside these ranges
 * Source: n = n0/(1 + (n0 - 1)/N) (Cochran 1977); an older form without the -1 is not used.
 */
export function finitePopulationSample(sample: number, population: number): number {
	valueWithin("sample", sample, Number.MIN_VALUE, 1e9);
	return sample / (1 + (sample - 1) / valueWithin("population", population, 1, 1e9));
}

/**
 * Design effect of clusters.
 *
 * @param perCluster members drawn from each, 1 to 1000
 * @param intraclassCorrelation 0 to 1: 1/6 was assumed for immunisation coverage, 1/3 by the WHO 2018 manual for routine coverage
 * @returns 1 + (m - 1)·rho
 * @throws RangeError outside these ranges
 * Source: Kish 1965.
 */
export function designEffect(perCluster: number, intraclassCorrelation: number): number {
	const m = valueWithin("members drawn from each cluster", perCluster, 1, 1000);
	return 1 + (m - 1) * valueWithin("intraclass correlation", intraclassCorrelation, 0, 1);
}

/** A cluster sample. */
export interface ClusterSample {
	/** Households needed, not rounded. */
	readonly households: number;
	readonly clusters: number;
	/** clusters · perCluster. */
	readonly drawn: number;
	readonly designEffect: number;
}

/**
 * Cluster sample for a share in an area.
 *
 * @param wanted `halfWidth`, `share`, `z` as for `sampleForShare`; `population` in households; `perCluster` 1 to 1000; either
 *   `designEffect` 1 to 20 or `intraclassCorrelation` 0 to 1; `nonResponseShare` 0 to 0.8 (default 0)
 * @returns households in this order: finite population, design effect, non-response; clusters rounded up
 * @throws RangeError outside these ranges, or without a design effect and a correlation
 * Source: WHO vaccination coverage cluster survey manual 2018 for the order.
 */
export function clusterSample(wanted: {
	readonly halfWidth: number;
	readonly share?: number;
	readonly z?: number;
	readonly population: number;
	readonly perCluster: number;
	readonly designEffect?: number;
	readonly intraclassCorrelation?: number;
	readonly nonResponseShare?: number;
}): ClusterSample {
	const perCluster = wholeWithin("members drawn from each cluster", wanted.perCluster, 1, 1000);
	const effect =
		wanted.designEffect === undefined
			? designEffect(perCluster, wanted.intraclassCorrelation ?? Number.NaN)
			: valueWithin("design effect", wanted.designEffect, 1, 20);
	const answered = 1 - valueWithin("share without an answer", wanted.nonResponseShare ?? 0, 0, 0.8);
	const households = (finitePopulationSample(sampleForShare(wanted), wanted.population) * effect) / answered;
	const clusters = Math.ceil(households / perCluster - 1e-9);
	return { households, clusters, drawn: clusters * perCluster, designEffect: effect };
}

/** A systematic draw that an audit can repeat. */
export interface SystematicDraw {
	/** Distance between two hits in the running total. */
	readonly interval: number;
	/** First hit. */
	readonly start: number;
	/** Index of the unit of each hit; a unit larger than the interval may come more than once. */
	readonly drawn: readonly number[];
}

/**
 * Systematic draw with chances in proportion to size.
 *
 * @param frame `sizes` of the units in a fixed order, whole, 0 or more, not all 0; `draws` 1 to 10 000; `startShare` 0 to under 1,
 *   a random number that is kept with the draw so that it can be drawn again
 * @returns interval, start and the drawn units
 * @throws RangeError outside these ranges
 * Source: systematic sampling with probability proportional to size (Kish 1965).
 */
export function systematicDraw(frame: {
	readonly sizes: readonly number[];
	readonly draws: number;
	readonly startShare: number;
}): SystematicDraw {
	const draws = wholeWithin("draws", frame.draws, 1, 10_000);
	const total = frame.sizes.reduce((sum, size, i) => sum + wholeWithin(`size of unit ${i + 1}`, size, 0, 1e9), 0);
	valueWithin("sum of the sizes", total, 1, Number.MAX_SAFE_INTEGER);
	const interval = total / draws;
	const start = valueWithin("random start (share)", frame.startShare, 0, 1 - 1e-12) * interval;
	const drawn: number[] = [];
	let unit = 0;
	let reached = frame.sizes[0]!;
	for (let hit = 0; hit < draws; hit++) {
		const at = start + hit * interval;
		while (reached <= at && unit < frame.sizes.length - 1) reached += frame.sizes[++unit]!;
		drawn.push(unit);
	}
	return { interval, start, drawn };
}
