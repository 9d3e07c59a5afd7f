import fc from "fast-check";
import { beliefAfter } from "../../src/science/belief.js";
import { mostTellingDilution } from "../../src/science/best-dilution.js";
import { dueCurveOf } from "../../src/science/due-curve.js";
import { equivalentDaysUntilUnder } from "../../src/science/due-days.js";
import { dueInstantMs, dueInstantsMs } from "../../src/science/due-instants.js";
import { exposureBetween, exposureCalendar } from "../../src/science/exposure.js";
import { comparatorWholeSteps } from "../../src/science/kits.js";
import { priorForNextBatch } from "../../src/science/learning.js";
import { strengthTestOf } from "../../src/science/reading.js";
import { retestPlan } from "../../src/science/retest.js";
import { chanceUnder } from "../../src/science/strength-now.js";

const DAY_MS = 86_400_000;
const MADE_MS = Date.UTC(2026, 2, 1);
const solution = { initialStrengthGPerL: 5, hoclFraction: 0.0246, lossRateAt25CPerDay: 0.0094 };
const curve = { solution, strengthExponent: 2 as const };
const prior = { medianInitialGPerL: 5, lnInitialSd: 0.15, medianRateMultiplier: 1, lnRateSd: 1.25 };
const calendarAt = (temperatureC: number) =>
	exposureCalendar({
		latitudeDeg: 0,
		altitudeM: 0,
		climate: Array.from({ length: 12 }, () => ({ dayMeanC: temperatureC, nightMeanC: temperatureC, cloudFraction: 0.5 })),
		wall: "opaque",
		exposure: "indoors",
		solutionVolumeL: 5,
		litAreaM2: 0,
	});
const fresh = beliefAfter(prior, curve, []);
const planAt = (temperatureC: number, over: Partial<Parameters<typeof retestPlan>[0]> = {}) =>
	retestPlan({
		belief: fresh,
		calendar: calendarAt(temperatureC),
		madeAtMs: MADE_MS,
		nowMs: MADE_MS,
		limitGPerL: 3.5,
		tolerance: 0.05,
		...over,
	});

describe("the day of the next test", () => {
	// Source: the full grid, which brute-force integration is held to; agreement to the 0.002 of under-chance.ts.
	it("is the first on which the chance of being under 3.5 g/L passes 5 %", () => {
		const { dueAtMs, reason } = planAt(28);
		const chanceAt = (ms: number) => chanceUnder(fresh, exposureBetween(calendarAt(28), MADE_MS, ms), 3.5);
		expect(reason).toBe("chancePassesTolerance");
		expect(Math.abs(chanceAt(dueAtMs) - 0.05)).toBeLessThan(0.003);
		expect(chanceAt(dueAtMs - DAY_MS)).toBeLessThan(0.05);
	});

	it("comes earlier the warmer it is stored: 20, 25, 30, 35, 40 °C", () => {
		const days = [20, 25, 30, 35, 40].map((t) => planAt(t).dueAtMs);
		expect([...days].sort((a, b) => b - a)).toEqual(days);
		expect(new Set(days).size).toBe(5);
	});

	it("is no later than the longest time and no sooner after a test than the shortest", () => {
		const window = { shortestMs: 2 * DAY_MS, longestMs: 14 * DAY_MS };
		expect(planAt(28, { limitGPerL: 1, window })).toMatchObject({ dueAtMs: MADE_MS + 14 * DAY_MS, reason: "longestTime" });
		const tested = beliefAfter(prior, curve, [
			strengthTestOf(
				comparatorWholeSteps,
				{ sampleMl: 1, madeUpToL: 2 },
				2,
				exposureBetween(calendarAt(35), MADE_MS, MADE_MS + 12 * DAY_MS),
			),
		]);
		const lastTestAtMs = MADE_MS + 12 * DAY_MS;
		const plan = planAt(35, { belief: tested, lastTestAtMs, nowMs: lastTestAtMs, window, limitGPerL: 3.8 });
		expect(plan).toMatchObject({ dueAtMs: lastTestAtMs + 2 * DAY_MS, reason: "alreadyPassed", verdict: "retestNow" });
	});

	it("is weak once it is more likely than not under the limit, and has fewer days left the later it is", () => {
		expect(planAt(40, { nowMs: MADE_MS + 60 * DAY_MS })).toMatchObject({ verdict: "weak" });
		const left = [0, 10, 20, 40].map((day) => planAt(30, { nowMs: MADE_MS + day * DAY_MS }).expectedRemainingDays);
		expect([...left].sort((a, b) => b - a)).toEqual(left);
	});

	it("refuses a test before the making and a now before the test", () => {
		expect(() => planAt(25, { lastTestAtMs: MADE_MS - 1 })).toThrow(RangeError);
		expect(() => planAt(25, { lastTestAtMs: MADE_MS + 2, nowMs: MADE_MS + 1 })).toThrow(RangeError);
	});
});

describe("due days by the short curve", () => {
	const from = { equivalentDaysAt25C: 0, sunLossGPerL: 0 };

	// Source: bisection of the chance on the full grid.
	it("lie at most 4 % before and 0.5 % after those of the full grid, for limits of 0.4 to 0.97 of the low edge", () => {
		fc.assert(
			fc.property(
				fc.double({ min: 0.4, max: 0.97, noNaN: true }),
				fc.double({ min: 0.5, max: 1.6, noNaN: true }),
				(share, lnRateSd) => {
					const belief = beliefAfter({ ...prior, lnRateSd }, curve, []);
					const short = dueCurveOf(belief, from, 0.05);
					const limit = short.lowGPerL * share;
					const days = equivalentDaysUntilUnder(short, limit);
					const chanceAt = (d: number) => chanceUnder(belief, { equivalentDaysAt25C: d, sunLossGPerL: 0 }, limit);
					expect(chanceAt(days * 0.994)).toBeLessThanOrEqual(0.0503);
					expect(chanceAt(days * 1.05)).toBeGreaterThanOrEqual(0.0497);
				},
			),
			{ numRuns: 25 },
		);
	});

	it("are 0 where the tolerance has passed already, and the same one by one as in columns", () => {
		const short = dueCurveOf(fresh, from, 0.05);
		expect(equivalentDaysUntilUnder(short, short.lowGPerL * 1.01)).toBe(0);
		const window = { shortestMs: DAY_MS, longestMs: 60 * DAY_MS };
		const limits = [2, 2.5, 3, 3.5];
		const columns = {
			lowGPerL: Float64Array.from(limits, () => short.lowGPerL),
			lnRateCoefficients: Float64Array.from(limits.flatMap(() => [...short.lnRateCoefficients])),
			limitGPerL: Float64Array.from(limits),
			referenceAtMs: Float64Array.from(limits, () => MADE_MS),
			place: new Uint32Array(limits.length),
		};
		const one = limits.map((limit) => dueInstantMs(short, calendarAt(30), MADE_MS, limit, window));
		expect([...dueInstantsMs(columns, [calendarAt(30)], window)]).toEqual(one);
		expect(one[0]).toBeGreaterThan(one[3] as number);
	});
});

describe("the dilution that tells most", () => {
	const choices = [1, 1.5, 2, 2.5].map((madeUpToL) => ({ sampleMl: 1, madeUpToL }));
	const now = { equivalentDaysAt25C: 0, sunLossGPerL: 0 };

	// Source: 1 mL in 1 L must read 5 mg/L or off the top (common practice, no source): a fresh jar is nearly always off the top.
	it("isn't 1 mL in 1 L for a fresh jar of 5 to 7 g/L: that reads off the top and can't tell them apart", () => {
		const belief = beliefAfter({ ...prior, medianInitialGPerL: 6, lnInitialSd: 0.15 }, curve, []);
		const ranked = mostTellingDilution(belief, now, comparatorWholeSteps, choices, 4.5);
		expect(ranked[0]?.dilution.madeUpToL).not.toBe(1);
		const inOne = ranked.find(({ dilution }) => dilution.madeUpToL === 1);
		const inTwo = ranked.find(({ dilution }) => dilution.madeUpToL === 2);
		expect(inOne?.chanceOffTheTop).toBeGreaterThan(0.85);
		expect(inTwo?.chanceOffTheTop).toBeLessThan(0.1);
		expect(inTwo?.aboutStrengthBit).toBeGreaterThan(1.5 * (inOne?.aboutStrengthBit ?? 0));
	});

	it("tells at most 1 bit about the limit, and no choice at all is refused", () => {
		for (const { aboutLimitBit } of mostTellingDilution(fresh, now, comparatorWholeSteps, choices, 3.5)) {
			expect(aboutLimitBit).toBeGreaterThanOrEqual(0);
			expect(aboutLimitBit).toBeLessThanOrEqual(1);
		}
		expect(() => mostTellingDilution(fresh, now, comparatorWholeSteps, [], 3.5)).toThrow(RangeError);
	});
});

describe("what a generator and a place teach", () => {
	const ignorance = { lnInitialSd: 0.2, lnRateSd: 1.25 };
	const next = { generatorId: "G1", placeId: "P1", expectedInitialGPerL: 5 };
	const past = (lnRateMean: number, over = {}) => ({
		generatorId: "G1",
		placeId: "P1",
		expectedInitialGPerL: 5,
		prior: { medianInitialGPerL: 5, lnInitialSd: 0.2, medianRateMultiplier: 1, lnRateSd: 1.25 },
		posterior: { lnInitialMean: Math.log(5), lnInitialSd: 0.1, lnRateMean, lnRateSd: 0.4 },
		...over,
	});

	it("is nothing without history, or from another generator and another place", () => {
		const blind = { medianInitialGPerL: 5, lnInitialSd: 0.2, medianRateMultiplier: 1, lnRateSd: 1.25 };
		for (const prior of [
			priorForNextBatch([], next, ignorance),
			priorForNextBatch([past(1, { generatorId: "G9", placeId: "P9" })], next, ignorance),
		])
			for (const [name, value] of Object.entries(blind)) expect(prior[name as keyof typeof prior]).toBeCloseTo(value, 12);
	});

	// Source: normal-normal updating with known variances (Gelman et al. 2013, chapter 2), reckoned by hand in the comment.
	it("moves the rate by the weight of what the tests said, after one batch", () => {
		// The tests alone: precision 1/0.4² - 1/1.25² = 5.61, value 0.8/0.4²/5.61 = 0.8913. With 0.4² between batches the
		// observation's variance is 1/5.61 + 0.16 = 0.3383; what generator and place share has variance 1.25² - 0.16 = 1.4025.
		const heard = 0.8913 * (1.4025 / (1.4025 + 0.3383));
		expect(Math.log(priorForNextBatch([past(0.8)], next, ignorance).medianRateMultiplier)).toBeCloseTo(heard, 3);
	});

	// The limits are choices of this program's own: wider while it isn't known what the batches of a generator differ by.
	it("grows surer with more batches: no surer than 0.5 in the rate and 0.15 in the strength before eight, than 0.3 and 0.08 from there on", () => {
		const counts = [1, 2, 5, 7, 8, 40];
		const sds = counts.map((count) =>
			priorForNextBatch(
				Array.from({ length: count }, () => past(0.8)),
				next,
				ignorance,
			),
		);
		const rates = sds.map(({ lnRateSd }) => lnRateSd);
		expect([...rates].sort((a, b) => b - a)).toEqual(rates);
		for (const [i, { lnRateSd, lnInitialSd }] of sds.entries()) {
			const isLearned = counts[i]! >= 8;
			expect(lnRateSd).toBeGreaterThanOrEqual(isLearned ? 0.3 : 0.5);
			expect(lnInitialSd).toBeGreaterThanOrEqual(isLearned ? 0.08 : 0.15);
		}
		expect(rates[3]).toBe(0.5);
		expect(rates.at(-1)).toBeLessThan(0.5);
	});
});
