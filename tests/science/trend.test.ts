import { describe, expect, it } from "@jest/globals";
import fc from "fast-check";
import { uniformFloat64 } from "pure-rand/distribution/uniformFloat64";
import { xoroshiro128plus } from "pure-rand/generator/xoroshiro128plus";
import { cusum } from "../../src/science/change-point.js";
import { normalQuantile } from "../../src/science/normal.js";
import { normalTwoSidedP } from "../../src/science/tail-chance.js";
import { mannKendall, mannKendallZ, medianSlope } from "../../src/science/trend.js";
import published from "../published/statistics.json" with { type: "json" };
import { expectNear } from "./near.js";

const { mannKendall: trend, cusum: chart } = published;

describe("Mann-Kendall test", () => {
	// Sources: Gilbert 1987 table (from memory); the rest computed independently.
	it.each(trend.checks)("of $values gives S = $s by the $method form", (check) => {
		const result = mannKendall(check.values);
		expect(result.s).toBe(check.s);
		expect(result.method).toBe(check.method);
		if (check.variance !== undefined) expectNear(result.variance, check.variance, trend.varianceTolerance);
		if (check.tau !== undefined) expectNear(result.tau, check.tau, 1e-12);
		if (check.z !== undefined) expectNear(result.z, check.z, trend.tolerance);
		if (check.oneSidedP !== undefined) expectNear(result.oneSidedP, check.oneSidedP, trend.tolerance);
		if (check.twoSidedP !== undefined) expectNear(result.twoSidedP, check.twoSidedP, trend.tolerance);
	});
	it("reaches z -0.885456 and p 0.375911 for S -1959 of a long rainfall series", () => {
		// Source: a reference implementation's result on its rainfall file.
		const { s, variance, z, p, tolerance } = trend.large;
		expectNear(mannKendallZ(s, variance), z, tolerance);
		expectNear(normalTwoSidedP(mannKendallZ(s, variance)), p, tolerance);
	});
	it("gives by its exact form the share of all 720 orders of 6 values, at every S", () => {
		const orders = (items: number[]): number[][] =>
			items.length < 2 ? [items] : items.flatMap((x, i) => orders(items.filter((_, j) => j !== i)).map((rest) => [x, ...rest]));
		const all = orders([1, 2, 3, 4, 5, 6]).map((values) => mannKendall(values));
		for (const s of [0, 1, 3, 5, 7, 9, 11, 13, 15]) {
			const one = all.find((result) => result.s === s);
			if (one) expectNear(one.oneSidedP, all.filter((result) => result.s >= s).length / 720, 1e-12);
		}
		expect(all).toHaveLength(720);
	});
	it("finds no trend in a constant series, p 1", () => {
		expect(mannKendall([3, 3, 3, 3, 3])).toMatchObject({ s: 0, variance: 0, z: 0, twoSidedP: 1 });
	});
	it("turns its sign when the series is read backwards", () => {
		fc.assert(
			fc.property(fc.array(fc.integer({ min: 0, max: 20 }), { minLength: 3, maxLength: 40 }), (values) => {
				expect(mannKendall([...values].reverse()).s + mannKendall(values).s).toBe(0);
			}),
		);
	});
	it("refuses two values and one that is no number", () => {
		expect(() => mannKendall([1, 2])).toThrow("values in the series must be 3 to 100000, got 2");
		expect(() => mannKendall([1, Number.NaN, 2])).toThrow("value 2 must be");
	});
});

describe("median slope", () => {
	it("is 2 for a line of slope 2 with one value far off", () => {
		const points = [0, 1, 2, 3, 4, 5, 6].map((x) => ({ x, y: x === 3 ? 100 : 1 + 2 * x }));
		expect(medianSlope(points)).toBe(2);
	});
	it("is refused for one time only", () => {
		expect(() =>
			medianSlope([
				{ x: 1, y: 1 },
				{ x: 1, y: 2 },
			]),
		).toThrow("pairs at different times");
	});
});

describe("cumulative sums", () => {
	const { points, signal } = cusum(chart);
	// Source: Montgomery, tabular CUSUM example (values from memory, result reproduced).
	it("reproduce Montgomery's upper sums 0, 4.47, 5.28, 5.30 at 22, 28, 29, 30 and the lower 1.77 at 3", () => {
		for (const { at, value } of chart.upper) expectNear(points[at - 1]!.upper, value, chart.tolerance);
		for (const { at, value } of chart.lower) expectNear(points[at - 1]!.lower, value, chart.tolerance);
	});
	it("signal at sample 29 with a run of 7, a shift after 22 and a new mean of 11.25", () => {
		if (!signal) throw new Error("no signal");
		expect(signal.index + 1).toBe(chart.signalAt);
		expect(points[signal.index]!.upperRun).toBe(chart.runLength);
		expect(signal.lastBeforeShift + 1).toBe(chart.lastBeforeShift);
		expectNear(signal.newMean, chart.newMean, chart.tolerance);
		expect(signal.direction).toBe("up");
	});
	it("signal downwards in the mirrored series, with the mirrored mean 8.75", () => {
		const mirrored = cusum({ ...chart, values: chart.values.map((value) => 20 - value) }).signal;
		expect(mirrored).toMatchObject({ index: 28, direction: "down", lastBeforeShift: 21 });
		expectNear(mirrored!.newMean, 20 - chart.newMean, chart.tolerance);
	});
	// Source: Montgomery, average run lengths for K = 0.5 (from memory); here by simulation, within 5 %.
	it.each(chart.runLengths.checks)(
		"take $value values on average to signal a shift of $shiftSd sd at a limit of $limit",
		(check) => {
			const random = xoroshiro128plus(20260301);
			const draw = () => check.shiftSd + normalQuantile(Math.max(1e-15, uniformFloat64(random)));
			const charts = 1000;
			let total = 0;
			for (let i = 0; i < charts; i++) {
				const values: number[] = [];
				// One chart in 3000 is longer than eight averages and is cut there.
				for (const length of [1.5, 4, 8].map((times) => Math.ceil(times * check.value))) {
					while (values.length < length) values.push(draw());
					const { signal } = cusum({ values, target: 0, slack: 0.5, limit: check.limit });
					if (signal || length > 7 * check.value) {
						total += (signal?.index ?? length) + 1;
						break;
					}
				}
			}
			expect(Math.abs(total / charts / check.value - 1)).toBeLessThan(0.05);
		},
	);
	it("stay silent on an empty and on a steady series, and refuse a limit of 0", () => {
		expect(cusum({ values: [], target: 0, slack: 0.5, limit: 5 })).toEqual({ points: [], signal: null });
		expect(cusum({ values: [10, 10.1, 9.9], target: 10, slack: 0.5, limit: 5 }).signal).toBeNull();
		expect(() => cusum({ values: [1], target: 0, slack: 0.5, limit: 0 })).toThrow("limit must be");
	});
});
