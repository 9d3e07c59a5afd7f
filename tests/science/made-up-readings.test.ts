import { describe, expect, it } from "@jest/globals";
import fc from "fast-check";
import { uniformFloat64 } from "pure-rand/distribution/uniformFloat64";
import { xoroshiro128plus } from "pure-rand/generator/xoroshiro128plus";
import { chanceOfRun, digitTest, expectedMatch, longestIdenticalRun, matchShare } from "../../src/science/identical-readings.js";
import { readingAdvice } from "../../src/science/made-up-readings.js";
import { runsTest } from "../../src/science/runs-test.js";
import { chiSquareUpperP, standingAlarms } from "../../src/science/tail-chance.js";
import { distanceKm, oddIntervals } from "../../src/science/visit-times.js";
import published from "../published/statistics.json" with { type: "json" };
import { expectNear } from "./near.js";

const { runs, longestRun, digits, match, tooGood, falseAlarms } = published;

/** Index of the share in which a uniform number falls. */
function drawnFrom(shares: readonly number[], uniform: number): number {
	const sums = shares.map((_, i) => shares.slice(0, i + 1).reduce((sum, share) => sum + share, 0));
	const index = sums.findIndex((sum) => uniform < sum);
	return index === -1 ? shares.length - 1 : index;
}

describe("runs test", () => {
	// Source: tests of statsmodels.
	it.each(runs.checks)("about the cutoff $cutoff gives z $z and p $p", ({ cutoff, z, p }) => {
		const mean = runs.series.reduce((sum, value) => sum + value, 0) / runs.series.length;
		const result = runsTest(runs.series, cutoff === "mean" ? mean : 2);
		expectNear(result!.z, z, runs.tolerance);
		expectNear(result!.twoSidedP, p, runs.tolerance);
	});
	it("has nothing to say when all readings lie on one side", () => {
		expect(runsTest([2, 3, 4], 1)).toBeNull();
	});
});

describe("identical readings", () => {
	// Source: exact recursion (computed independently).
	it.each(longestRun.checks)(
		"chance of $runLength in a row in $readings at a share of $share is $value",
		({ value, ...series }) => {
			expectNear(chanceOfRun(series), value, longestRun.tolerance);
		},
	);
	it("chance of a run agrees with counting all 4096 series of 12 coin throws", () => {
		const longest = (bits: number) =>
			Math.max(
				...bits
					.toString(2)
					.padStart(12, "0")
					.split("0")
					.map((ones) => ones.length),
			);
		for (const runLength of [1, 2, 3, 5, 8, 12]) {
			const counted =
				Array.from({ length: 4096 }, (_, bits) => longest(bits)).filter((length) => length >= runLength).length / 4096;
			expectNear(chanceOfRun({ share: 0.5, readings: 12, runLength }), counted, 1e-12);
		}
	});
	it("finds the longest run: four 5s in 5 3 5 5 5 5 2 2", () => {
		expect(longestIdenticalRun([5, 3, 5, 5, 5, 5, 2, 2])).toEqual({ value: 5, length: 4 });
		expect(longestIdenticalRun([])).toBeNull();
	});
	it("match in 0.21 of the pairs when the values have seven peers' shares", () => {
		expectNear(expectedMatch(match.shares, 30).share, match.value, match.tolerance);
	});
	it("match on average and spread as foreseen in 4000 random series of 25", () => {
		const random = xoroshiro128plus(7);
		const draw = () => drawnFrom(match.shares, uniformFloat64(random));
		const found = Array.from({ length: 4000 }, () => matchShare(Array.from({ length: 25 }, draw)));
		const mean = found.reduce((sum, value) => sum + value, 0) / found.length;
		const sd = Math.sqrt(found.reduce((sum, value) => sum + (value - mean) ** 2, 0) / found.length);
		const expected = expectedMatch(match.shares, 25);
		expectNear(mean, expected.share, 0.003);
		expectNear(sd / expected.standardDeviation, 1, 0.05);
	});
	it("all fine in 19 readings has a chance of 0.0144 where a fifth fail", () => {
		expectNear((1 - tooGood.failShare) ** tooGood.readings, tooGood.value, tooGood.tolerance);
	});
});

describe("last digits", () => {
	it("40, 3, 4, 4, 3, 30, 4, 4, 4, 4 have a chi-squared of 161.4 against all alike", () => {
		const result = digitTest(digits.counts);
		expectNear(result.chiSquare, digits.chiSquare, digits.tolerance);
		expect(result.degreesOfFreedom).toBe(9);
		expect(result.upperP).toBeLessThan(1e-12);
	});
	it.each(digits.quantiles)("have a chance of $p to pass $value with 9 degrees of freedom", ({ value, p, tolerance }) => {
		expectNear(chiSquareUpperP(value, 9), p, tolerance);
	});
	it("are nothing odd beside peers who heap the same way", () => {
		expect(
			digitTest([40, 3, 4, 4, 3, 30, 4, 4, 4, 4], [0.4, 0.03, 0.04, 0.04, 0.03, 0.3, 0.04, 0.04, 0.04, 0.04]).chiSquare,
		).toBeCloseTo(0, 9);
	});
	it("are refused with 9 shares for 10 classes", () => {
		expect(() => digitTest(digits.counts, new Array(9).fill(1 / 9))).toThrow("shares must be 10, one for each class, got 9");
	});
});

describe("many alarms at once", () => {
	it("stand for the 4 smallest of Benjamini and Hochberg's 15 p-values", () => {
		const stands = standingAlarms(falseAlarms.p, falseAlarms.falseShare);
		expect(stands.filter(Boolean)).toHaveLength(falseAlarms.rejected);
		expect(stands.slice(0, falseAlarms.rejected)).toEqual([true, true, true, true]);
	});
	it("stand for the same ones in any order", () => {
		fc.assert(
			fc.property(fc.array(fc.double({ min: 0, max: 1, noNaN: true }), { maxLength: 30 }), (p) => {
				const stands = standingAlarms(p, 0.1);
				expect(standingAlarms([...p].reverse(), 0.1).reverse()).toEqual(stands);
			}),
		);
	});
});

describe("times between visits", () => {
	const minute = 60_000;
	const at = (minutes: number, latitudeDeg: number, accuracyM?: number) => ({
		visitedAtMs: 1_772_000_000_000 + minutes * minute,
		position: { latitudeDeg, longitudeDeg: 36.8, ...(accuracyM === undefined ? {} : { accuracyM }) },
	});
	it("measures a degree of latitude as 111.19 km", () => {
		// Computed independently: 6371 km · π/180.
		expectNear(distanceKm({ latitudeDeg: 0, longitudeDeg: 0 }, { latitudeDeg: 1, longitudeDeg: 0 }), 111.195, 0.001);
	});
	it("flags 2.2 km walked in 10 min, 13 km/h, and not the same way in 30 min", () => {
		const [odd] = oddIntervals([at(0, -1.28), at(10, -1.26)]);
		expect(odd).toMatchObject({ index: 1, reason: "tooFast" });
		expectNear(odd!.speedKmPerH, (2.2239 - 0.06) * 6, 0.01);
		expect(oddIntervals([at(0, -1.28), at(30, -1.26)])).toEqual([]);
	});
	it("gives the benefit of a poor position: 2.2 km with 2 km of inaccuracy is no speed", () => {
		expect(oddIntervals([at(0, -1.28, 1000), at(10, -1.26, 1000)])).toEqual([]);
	});
	it("flags two visits in one minute and one 2 min later, in any order of entry", () => {
		const visits = [{ visitedAtMs: 120_000 + 30_000 }, { visitedAtMs: 0 }, { visitedAtMs: 30_000 }];
		expect(oddIntervals(visits).map(({ reason }) => reason)).toEqual(["sameMinute", "tooSoon"]);
	});
	it("allows a rider 40 km/h when the limit says so", () => {
		expect(oddIntervals([at(0, -1.28), at(10, -1.26)], { fastestKmPerH: 40 })).toEqual([]);
	});
});

describe("advice on readings", () => {
	const shares = [0.05, 0.1, 0.15, 0.35, 0.2, 0.1, 0.05];
	const honest = (seed: number, count: number) => {
		const random = xoroshiro128plus(Math.imul(seed + 1, 0x9e3779b1));
		return Array.from({ length: count }, () => drawnFrom(shares, uniformFloat64(random)));
	};
	const team = (count: number, from = 0) =>
		Array.from({ length: count }, (_, i) => ({ volunteerId: `v${i}`, steps: honest(from + i, 40) }));
	const settings = { lowBelowSteps: 2 };

	it("asks to check a volunteer who wrote 3 forty times, and names the sameness", () => {
		const advice = readingAdvice([...team(12), { volunteerId: "same", steps: new Array(40).fill(3) }], settings).at(-1)!;
		if (advice.kind !== "check") throw new Error(advice.kind);
		expect(advice.odd.map(({ check }) => check)).toEqual(expect.arrayContaining(["tooUniform", "lastDigits"]));
	});
	it("asks to check a volunteer whose readings swing up and down without fail", () => {
		const steps = Array.from({ length: 40 }, (_, i) => (i % 2 === 0 ? 2 : 4));
		const advice = readingAdvice([...team(12), { volunteerId: "swing", steps }], settings).at(-1)!;
		if (advice.kind !== "check") throw new Error(advice.kind);
		expect(advice.odd.map(({ check }) => check)).toContain("tooFewOrManyRuns");
	});
	it("asks to check a volunteer whose readings stand in blocks of one value", () => {
		const steps = [1, 2, 3, 4, 5].flatMap((value) => new Array<number>(8).fill(value));
		const advice = readingAdvice([...team(12), { volunteerId: "blocks", steps }], settings).at(-1)!;
		if (advice.kind !== "check") throw new Error(advice.kind);
		expect(advice.odd.map(({ check }) => check)).toContain("longRun");
	});
	it("asks to check a volunteer who wrote the same list of twelve down a second time", () => {
		const list = honest(777, 12);
		const advice = readingAdvice(
			[...team(12), { volunteerId: "copied", steps: [...honest(778, 8), ...list, ...honest(779, 5), ...list] }],
			settings,
		).at(-1)!;
		if (advice.kind !== "check") throw new Error(advice.kind);
		expect(advice.odd.map(({ check }) => check)).toContain("repeatedSequence");
	});
	it("leaves 97 of 100 teams of 15 honest volunteers without a single alarm", () => {
		const alarmed = Array.from({ length: 200 }, (_, i) => readingAdvice(team(15, i * 15), settings)).filter((advice) =>
			advice.some(({ kind }) => kind === "check"),
		).length;
		expect(alarmed / 200).toBeLessThanOrEqual(0.03);
	});
	it("leaves 9 of 10 teams alone in which half of the homes have water that reads one step higher", () => {
		const twoSources = (from: number) =>
			team(15, from).map((one, i) => (i % 2 === 0 ? one : { ...one, steps: one.steps.map((s, k) => (k % 2 === 0 ? s : s + 1)) }));
		const alarmed = Array.from({ length: 200 }, (_, i) => readingAdvice(twoSources(5000 + i * 15), settings)).filter((advice) =>
			advice.some(({ kind }) => kind === "check"),
		).length;
		expect(alarmed / 200).toBeLessThanOrEqual(0.1);
	});
	it("shows how many pairs match beside the peers, 1 beside about 0.22, and the longest run of 40", () => {
		const advice = readingAdvice([...team(12), { volunteerId: "same", steps: new Array(40).fill(3) }], settings).at(-1)!;
		if (advice.kind !== "check") throw new Error(advice.kind);
		expect(advice.figures).toMatchObject({ matchShare: 1, longestRun: 40 });
		expectNear(advice.figures.peerMatchShare, match.value, 0.03);
	});
	it("says nothing on 19 readings, or without 60 readings of peers", () => {
		const few = readingAdvice([...team(5), { volunteerId: "few", steps: honest(99, 19) }], settings).at(-1)!;
		expect(few).toEqual({ volunteerId: "few", kind: "tooFewReadings", moreReadings: 1 });
		expect(readingAdvice([{ volunteerId: "alone", steps: honest(1, 40) }], settings)[0]).toMatchObject({
			kind: "tooFewReadings",
		});
	});
	it("tells odd times beside the advice and raises no alarm by them alone", () => {
		const visits = [{ visitedAtMs: 0 }, { visitedAtMs: 10_000 }];
		const volunteers = team(8).map((one, i) => (i === 0 ? { ...one, visits } : one));
		expect(readingAdvice(volunteers, settings)[0]).toMatchObject({
			kind: "nothingOdd",
			figures: { oddTimes: [{ reason: "sameMinute" }] },
		});
	});
	it("never says more than check: no word of fraud, lie or fake in any answer", () => {
		const all = readingAdvice([...team(12), { volunteerId: "same", steps: new Array(40).fill(3) }], settings);
		expect(JSON.stringify(all)).not.toMatch(/fraud|lie|fake|cheat|fabricat/i);
		expect(new Set(all.map(({ kind }) => kind))).toEqual(new Set(["nothingOdd", "check"]));
	});
	it("refuses half a step", () => {
		expect(() => readingAdvice([{ volunteerId: "v", steps: [1.5] }], settings)).toThrow(
			"reading in steps of the kit must be a whole number from 0 to 10000, got 1.5",
		);
	});
});
