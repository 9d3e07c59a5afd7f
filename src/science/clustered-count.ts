import { groupCountChances } from "./beta-binomial.js";
import { wholeWithin } from "./whole-number.js";

/** Clusters of equal size whose members resemble each other. */
export interface Clusters {
	/** 1 to 200. */
	readonly count: number;
	/** Drawn from each, 1 to 200. */
	readonly perCluster: number;
	/** Intraclass correlation, 0 to 1: 0 makes members independent, 1 makes them all alike. */
	readonly intraclassCorrelation: number;
}

/**
 * Chance of each count of successes in a clustered sample.
 *
 * @param share true share in the area, 0 to 1
 * @param clusters count, size and intraclass correlation
 * @returns chances of 0 to count·perCluster successes; mean n·p, variance n·p·(1 - p)·(1 + (m - 1)·rho)
 * @throws RangeError outside these ranges
 * Source: beta-binomial in each cluster, independent clusters added up; as in clustered LQAS (Hedt-Gauthier, Mitsunaga et al. 2013,
 * Emerg. Themes Epidemiol.).
 */
export function clusteredCountChances(share: number, clusters: Clusters): number[] {
	const count = wholeWithin("clusters", clusters.count, 1, 200);
	const size = wholeWithin("members drawn from each cluster", clusters.perCluster, 1, 200);
	const one = groupCountChances({ share, size, intraclassCorrelation: clusters.intraclassCorrelation });
	let sum = [1];
	for (let cluster = 0; cluster < count; cluster++) {
		const next = new Array<number>(sum.length + size).fill(0);
		for (const [before, chance] of sum.entries())
			for (const [more, extra] of one.entries()) next[before + more]! += chance * extra;
		sum = next;
	}
	return sum;
}
