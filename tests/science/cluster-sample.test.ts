import { describe, expect, it } from "@jest/globals";
import fc from "fast-check";
import {
	clusterSample,
	designEffect,
	finitePopulationSample,
	sampleForShare,
	systematicDraw,
} from "../../src/science/cluster-sample.js";
import published from "../published/statistics.json" with { type: "json" };
import { expectNear } from "./near.js";

describe("sample for a share", () => {
	it.each(published.sampleSize.checks)("is $value for a half width of $halfWidth", ({ halfWidth, value }) => {
		expectNear(sampleForShare({ halfWidth }), value, published.sampleSize.tolerance);
	});
	it("of 95 gives plus or minus 10.05 points back", () => {
		const { sample, halfWidth, tolerance } = published.pooled;
		expectNear(sampleForShare({ halfWidth }), sample, 0.1);
		expectNear(1.96 * Math.sqrt(0.25 / sample), halfWidth, tolerance);
	});
	it.each(published.finitePopulation.checks)(
		"from $population at $halfWidth is $value, published as $published",
		({ halfWidth, population, value, tolerance, published: printed }) => {
			const sample = finitePopulationSample(sampleForShare({ halfWidth }), population);
			expectNear(sample, value, tolerance);
			expect(Math.round(sample)).toBe(printed);
		},
	);
	it("takes the form with -1: 222.6, not 222.3, from 384 in 528", () => {
		const { sample, population, value, tolerance } = published.finitePopulation.minusOneForm;
		expectNear(finitePopulationSample(sample, population), value, tolerance);
	});
	it("refuses a half width of 0", () => {
		expect(() => sampleForShare({ halfWidth: 0 })).toThrow("half width (share) must be 0.005 to 0.5, got 0");
	});
});

describe("cluster sample", () => {
	it.each(published.designEffect.checks)("has a design effect of $value for $perCluster a cluster and rho $rho", (check) => {
		expectNear(designEffect(check.perCluster, check.rho), check.value, published.designEffect.tolerance);
	});
	it("of 96 households times 2 takes 28 clusters of 7, before the survey rounds to 30", () => {
		const { households, clusters, perCluster } = published.epi;
		const sample = clusterSample({ halfWidth: 0.1, population: 1e9, perCluster, designEffect: 2 });
		expect(Math.floor(sample.households)).toBe(households);
		expect(sample.clusters).toBe(clusters);
	});
	it("of 300 households at 10 points and a design effect of 1.5 is 109.4, 11 clusters of 10", () => {
		const { households, tolerance, clusters, perCluster } = published.clusterPlan;
		const sample = clusterSample({ halfWidth: 0.1, population: 300, perCluster, designEffect: 1.5 });
		expectNear(sample.households, households, tolerance);
		expect(sample).toMatchObject({ clusters, drawn: 110 });
	});
	it("adds non-response last: a tenth missing makes 109.4 into 121.5", () => {
		const sample = clusterSample({ halfWidth: 0.1, population: 300, perCluster: 10, designEffect: 1.5, nonResponseShare: 0.1 });
		expectNear(sample.households, 109.37 / 0.9, 0.05);
	});
	it("is refused without a design effect and without a correlation", () => {
		expect(() => clusterSample({ halfWidth: 0.1, population: 300, perCluster: 10 })).toThrow(
			"intraclass correlation must be 0 to 1, got NaN",
		);
	});
});

describe("systematic draw", () => {
	it("hits units 1, 1 and 4 of sizes 10, 50, 0, 20, 20 at a start of half the interval of 33.3", () => {
		// Computed by hand: hits at 16.7, 50 and 83.3 of the running totals 10, 60, 60, 80, 100.
		const draw = systematicDraw({ sizes: [10, 50, 0, 20, 20], draws: 3, startShare: 0.5 });
		expectNear(draw.interval, 100 / 3, 1e-12);
		expect(draw.drawn).toEqual([1, 1, 4]);
	});
	it("is the same again for the same start, and draws each unit in proportion to its size", () => {
		const sizes = [120, 40, 0, 240, 400];
		expect(systematicDraw({ sizes, draws: 4, startShare: 0.3 })).toEqual(systematicDraw({ sizes, draws: 4, startShare: 0.3 }));
		const hits = new Array<number>(sizes.length).fill(0);
		const starts = 4000;
		for (let i = 0; i < starts; i++)
			for (const unit of systematicDraw({ sizes, draws: 4, startShare: (i + 0.5) / starts }).drawn) hits[unit]!++;
		for (const [unit, size] of sizes.entries()) expectNear(hits[unit]! / starts, (4 * size) / 800, 0.002);
	});
	it("draws as many as asked for, never a unit of size 0", () => {
		fc.assert(
			fc.property(
				fc.array(fc.integer({ min: 0, max: 500 }), { minLength: 1, maxLength: 40 }).filter((sizes) => sizes.some((s) => s > 0)),
				fc.integer({ min: 1, max: 30 }),
				fc.double({ min: 0, max: 0.999999, noNaN: true }),
				(sizes, draws, startShare) => {
					const { drawn } = systematicDraw({ sizes, draws, startShare });
					expect(drawn).toHaveLength(draws);
					for (const unit of drawn) expect(sizes[unit]).toBeGreaterThan(0);
				},
			),
		);
	});
	it("is refused for an area without households", () => {
		expect(() => systematicDraw({ sizes: [0, 0], draws: 2, startShare: 0.1 })).toThrow("sum of the sizes must be 1 to");
	});
});
