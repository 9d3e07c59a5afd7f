import { describe, expect, it } from "@jest/globals";
import tQuantile from "@stdlib/stats-base-dists-t-quantile";
import { shareOfClusters } from "../../src/science/cluster-share.js";
import { SeededRandomness } from "../../src/time/randomness.js";
import { expectNear } from "./near.js";

describe("a share of a cluster sample", () => {
	it("of clusters of one size is their mean, with their variance over their number (Cochran 1977, section 9.2)", () => {
		const found = [7, 4, 9, 6, 10, 8];
		const { share, standardError, degreesOfFreedom } = shareOfClusters(found.map((successes) => ({ successes, members: 10 })));
		const means = found.map((count) => count / 10);
		const mean = means.reduce((sum, one) => sum + one, 0) / 6;
		const variance = means.reduce((sum, one) => sum + (one - mean) ** 2, 0) / 5 / 6;
		expectNear(share, mean, 1e-12);
		expectNear(standardError, Math.sqrt(variance), 1e-12);
		expect(degreesOfFreedom).toBe(5);
	});

	it("of clusters of other sizes is near what leaving one out at a time gives (Wolter 2007, chapter 4)", () => {
		const clusters = Array.from({ length: 30 }, (_, i) => ({ members: 5 + (i % 4), successes: (i * 7) % (6 + (i % 4)) }));
		const ratio = (of: typeof clusters) =>
			of.reduce((sum, { successes }) => sum + successes, 0) / of.reduce((sum, { members }) => sum + members, 0);
		const left = clusters.map((_, out) => ratio(clusters.filter((_, i) => i !== out)));
		const middle = left.reduce((sum, one) => sum + one, 0) / 30;
		const jackknife = Math.sqrt((29 / 30) * left.reduce((sum, one) => sum + (one - middle) ** 2, 0));
		const { share, standardError } = shareOfClusters(clusters);
		expectNear(share, ratio(clusters), 1e-12);
		expectNear(standardError / jackknife, 1, 0.01);
	});

	it("has its interval by t: 2.571 standard errors with 5 degrees of freedom, 2.045 with 29 (printed tables)", () => {
		expectNear(tQuantile(0.975, 5), 2.571, 5e-4);
		expectNear(tQuantile(0.975, 29), 2.045, 5e-4);
		const { low, share, high, standardError } = shareOfClusters(
			[5, 6, 4, 7, 5, 6].map((successes) => ({ successes, members: 10 })),
		);
		expectNear((share - low) / standardError, 2.571, 5e-4);
		expectNear((high - share) / standardError, 2.571, 5e-4);
	});

	it("holds the true share in about 95 of 100 samples of an invented country where areas differ", () => {
		const draws = new SeededRandomness(5);
		const areas = Array.from({ length: 400 }, () => Math.min(0.98, Math.max(0.02, 0.7 + 0.15 * draws.normal())));
		const truth = areas.reduce((sum, share) => sum + share, 0) / areas.length;
		let held = 0;
		for (let sample = 0; sample < 2000; sample++) {
			const clusters = Array.from({ length: 30 }, () => {
				const share = draws.pick(areas);
				return {
					members: 7,
					successes: Array.from({ length: 7 }, () => (draws.fraction() < share ? 1 : 0)).reduce((a: number, b) => a + b, 0),
				};
			});
			const { low, high } = shareOfClusters(clusters);
			if (low <= truth && truth <= high) held++;
		}
		expect(held / 2000).toBeGreaterThan(0.935);
		expect(held / 2000).toBeLessThan(0.965);
	});

	it("of clusters that all agree takes the Wilson interval: no error to be seen isn't none", () => {
		const { low, high, share, designEffect } = shareOfClusters([10, 10, 10].map((members) => ({ members, successes: members })));
		expect({ share, high, designEffect }).toEqual({ share: 1, high: 1, designEffect: null });
		expectNear(low, 0.8864866, 1e-6); // 30 of 30, R binom.confint
	});

	it("is refused for one cluster", () => {
		expect(() => shareOfClusters([{ successes: 1, members: 2 }])).toThrow("clusters must be 2 to 10000, got 1");
	});
});
