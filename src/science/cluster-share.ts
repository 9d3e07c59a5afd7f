import tQuantile from "@stdlib/stats-base-dists-t-quantile";
import { valueWithin } from "./valid-range.js";
import { wholeWithin } from "./whole-number.js";
import { type ShareInterval, wilsonInterval } from "./wilson.js";

/** What was found in one cluster: so many of so many. */
export interface ClusterCount {
	readonly successes: number;
	readonly members: number;
}

/** A share of a population as a sample of clusters tells it. */
export interface ClusterShare extends ShareInterval {
	/** Standard error of the share. */
	readonly standardError: number;
	/** Its variance over that of a simple random sample as large; null where that is 0. */
	readonly designEffect: number | null;
	/** Clusters less one. */
	readonly degreesOfFreedom: number;
}

/**
 * Share of a population from a self-weighting sample of clusters: drawn with chances in proportion to size, as many members from each.
 *
 * @param clusters 2 to 10 000 draws with what answered, members 0 or more each and 1 or more together; a unit that was drawn twice is
 *   two draws
 * @param confidence 0.5 to 0.9999 (default 0.95)
 * @returns successes over members with the interval of t with clusters - 1 degrees of freedom, cut to 0 and 1; where all clusters agree
 *   the clusters tell no error, and the Wilson interval of the members stands for it
 * @throws RangeError outside these ranges
 * Assumes draws with replacement (the ultimate cluster; a little too wide without) and as many who don't answer everywhere.
 * Source: ratio estimate r = sum y / sum x, v(r) = k/(k-1)·sum (y_i - r·x_i)² / (sum x)² (Hansen, Hurwitz & Madow 1953; Cochran 1977,
 * eq. 2.45 and section 3.12; Wolter 2007, chapter 6).
 */
export function shareOfClusters(clusters: readonly ClusterCount[], confidence = 0.95): ClusterShare {
	const k = wholeWithin("clusters", clusters.length, 2, 10_000);
	valueWithin("confidence", confidence, 0.5, 0.9999);
	let members = 0;
	let successes = 0;
	for (const cluster of clusters) {
		members += wholeWithin("members of a cluster", cluster.members, 0, 1e6);
		successes += wholeWithin("successes in a cluster", cluster.successes, 0, cluster.members);
	}
	valueWithin("members of all clusters", members, 1, 1e9);
	const share = successes / members;
	const squares = clusters.reduce((sum, { successes: y, members: x }) => sum + (y - share * x) ** 2, 0);
	const variance = ((k / (k - 1)) * squares) / members ** 2;
	const simple = (share * (1 - share)) / members;
	const standardError = Math.sqrt(variance);
	const common = { standardError, designEffect: simple > 0 ? variance / simple : null, degreesOfFreedom: k - 1 };
	if (variance < 1e-18) return { ...wilsonInterval({ successes, trials: members, confidence }), ...common };
	const half = tQuantile((1 + confidence) / 2, k - 1) * standardError;
	return { low: Math.max(0, share - half), share, high: Math.min(1, share + half), ...common };
}
