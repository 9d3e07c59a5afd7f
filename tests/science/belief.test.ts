import fc from "fast-check";
import { type Belief, beliefAfter } from "../../src/science/belief.js";
import { type StandardCurve, strengthByCurveGPerL, strengthsOverGridGPerL } from "../../src/science/belief-curve.js";
import { comparatorUnevenSteps, comparatorWholeSteps, dipStrip, dropCount, photometer } from "../../src/science/kits.js";
import { momentsOf, rateMultiplierNow } from "../../src/science/rate-belief.js";
import { strengthTestOf } from "../../src/science/reading.js";
import { chanceUnder, strengthNow, strengthQuantileGPerL } from "../../src/science/strength-now.js";
import type { BandTest, StrengthTest } from "../../src/science/strength-test.js";
import published from "../published/belief.json" with { type: "json" };
import { expectNear } from "./near.js";

const { case: given, tolerances } = published;
const prior = {
	medianInitialGPerL: given.medianInitialGPerL,
	lnInitialSd: given.lnInitialSd,
	medianRateMultiplier: 1,
	lnRateSd: given.lnRateSd,
};
const curve: StandardCurve = {
	solution: { initialStrengthGPerL: 5, hoclFraction: given.hoclFraction, lossRateAt25CPerDay: given.lossRatePerDay },
	strengthExponent: 0,
};
const aged = (days: number) => ({ equivalentDaysAt25C: days, sunLossGPerL: 0 });
const dilution = { sampleMl: 1, madeUpToL: 2 };
const certain = { ...comparatorUnevenSteps, logSd: given.logSd, misreadShare: 0 };
const tests = given.tests.map(({ day, readingMgPerL }) => strengthTestOf(certain, dilution, readingMgPerL, aged(day)));

/** First day on which the 5 % quantile is below a limit. */
function dayOfLowUnder(belief: Belief, limitGPerL: number): number {
	let early = 0;
	let late = 100;
	while (late - early > 1e-4) {
		const day = (early + late) / 2;
		if (chanceUnder(belief, aged(day), limitGPerL) > 0.05) late = day;
		else early = day;
	}
	return late;
}

describe("a batch of 5 g/L tested on days 1 and 10 (computed independently)", () => {
	for (const row of published.after) {
		const belief = beliefAfter(prior, curve, tests.slice(0, row.tests));
		it(`has strength on day 20, its mean and its chance under 3.5 g/L as published after ${row.tests} tests`, () => {
			const now = strengthNow(belief, aged(20));
			expectNear(now.lowGPerL, row.lowGPerL, tolerances.quantileGPerL);
			expectNear(now.medianGPerL, row.medianGPerL, tolerances.quantileGPerL);
			expectNear(now.highGPerL, row.highGPerL, tolerances.quantileGPerL);
			expectNear(now.meanGPerL, row.meanGPerL, tolerances.meanGPerL);
			expectNear(now.chanceUnder(3.5), row.chanceUnder3500, tolerances.chance);
		});
		it(`has evidence and rate quantiles as published after ${row.tests} tests`, () => {
			expectNear(belief.evidence.at(-1)?.cumulative ?? 1, row.evidence, tolerances.evidence);
			const rate = rateMultiplierNow(belief);
			expectNear(rate.low, row.rateLow, row.rateLow * tolerances.rateShare);
			expectNear(rate.median, row.rateMedian, row.rateMedian * tolerances.rateShare);
			expectNear(rate.high, row.rateHigh, row.rateHigh * tolerances.rateShare);
		});
		it(`has its low edge fall below 3.5, 3.0 and 2.5 g/L on the published days after ${row.tests} tests, within 0.1 d`, () => {
			for (const [limit, day] of Object.entries(row.lowFallsBelowOnDay)) {
				expectNear(dayOfLowUnder(belief, Number(limit)), day, tolerances.day);
			}
		});
	}
	it("agrees with an importance sample of 4 million draws after both tests", () => {
		const { sampled } = published;
		const belief = beliefAfter(prior, curve, tests.slice(0, sampled.tests));
		const now = strengthNow(belief, aged(20));
		expectNear(belief.evidence[1]!.cumulative, sampled.evidence, tolerances.evidence);
		expectNear(now.lowGPerL, sampled.lowGPerL, tolerances.quantileGPerL);
		expectNear(now.medianGPerL, sampled.medianGPerL, tolerances.quantileGPerL);
		expectNear(now.highGPerL, sampled.highGPerL, tolerances.quantileGPerL);
		expectNear(now.meanGPerL, sampled.meanGPerL, tolerances.meanGPerL);
	});
	it("has evidence 0.44794 and 0.24053 when 2 % of readings go to any of six bands", () => {
		const { share, evidence } = published.misreadEverywhere;
		const kit = { ...certain, misreadShare: share, misreadSpread: "everywhere" as const };
		const misread = given.tests.slice(0, 2).map((t) => strengthTestOf(kit, dilution, t.readingMgPerL, aged(t.day)));
		const belief = beliefAfter(prior, curve, misread);
		expectNear(belief.evidence[0]!.cumulative, evidence[0]!, tolerances.evidence);
		expectNear(belief.evidence[1]!.cumulative, evidence[1]!, tolerances.evidence);
	});
});

describe("beliefs with a closed form", () => {
	it("is the normal-normal posterior for a number read before any loss", () => {
		const { readingGPerL, logSd, lnMean, lnSd, medianGPerL, lowGPerL, highGPerL, tolerance } = published.closedForm.normalNormal;
		const test: StrengthTest = {
			kind: "number",
			exposure: aged(0),
			logSd,
			measuredGPerL: readingGPerL,
			grossShare: 0,
			grossLnSpan: 5,
		};
		const belief = beliefAfter(prior, curve, [test]);
		expectNear(momentsOf(belief).lnInitialMean, lnMean, tolerance);
		expectNear(momentsOf(belief).lnInitialSd, lnSd, tolerance);
		const now = strengthNow(belief, aged(0));
		expectNear(now.medianGPerL, medianGPerL, tolerance);
		expectNear(now.lowGPerL, lowGPerL, tolerance);
		expectNear(now.highGPerL, highGPerL, tolerance);
	});
	it("gives the closed-form evidence of two bands before any loss", () => {
		for (const { lowGPerL, highGPerL, evidence, tolerance } of published.closedForm.evidenceOfBandAtStart) {
			const test: BandTest = {
				kind: "band",
				exposure: aged(0),
				logSd: given.logSd,
				edgesGPerL: [lowGPerL, highGPerL],
				chances: [0, 1, 0],
			};
			expectNear(beliefAfter(prior, curve, [test]).evidence[0]!.evidence, evidence, tolerance);
		}
	});
	it("is the same for every order of the three tests, to 1e-12", () => {
		const belief = beliefAfter(prior, curve, tests);
		for (const order of [
			[0, 2, 1],
			[1, 0, 2],
			[1, 2, 0],
			[2, 0, 1],
			[2, 1, 0],
		]) {
			const other = beliefAfter(
				prior,
				curve,
				order.map((i) => tests[i]!),
			);
			const apart = Math.max(...other.weights.map((weight, node) => Math.abs(weight - belief.weights[node]!)));
			expect(apart).toBeLessThanOrEqual(published.closedForm.orderInvariance);
			expect(other.box).toEqual(belief.box);
		}
	});
	it("is the prior again when a band is widened to everything above 0 g/L, to 1e-12", () => {
		const everything: BandTest = { kind: "band", exposure: aged(10), logSd: 0.1, edgesGPerL: [], chances: [1] };
		const [before, then] = [beliefAfter(prior, curve, []), beliefAfter(prior, curve, [everything])];
		const apart = Math.max(...then.weights.map((weight, node) => Math.abs(weight - before.weights[node]!)));
		expect(apart).toBeLessThanOrEqual(published.closedForm.wholeLineInvariance);
		expect(then.evidence[0]!.evidence).toBeCloseTo(1, 12);
	});
});

describe("a belief", () => {
	it("has an earlier end the hotter it is kept: 10 % more heat never adds a day", () => {
		fc.assert(
			fc.property(fc.double({ min: 0.5, max: 2, noNaN: true }), fc.double({ min: 2.5, max: 4, noNaN: true }), (heat, limit) => {
				const hot = (days: number) => ({ equivalentDaysAt25C: days * heat * 1.1, sunLossGPerL: 0 });
				const belief = beliefAfter(prior, curve, tests.slice(0, 1));
				expect(chanceUnder(belief, hot(12), limit)).toBeGreaterThanOrEqual(chanceUnder(belief, aged(12 * heat), limit));
			}),
			{ seed: 5, numRuns: 30 },
		);
	});
	it("comes back from JSON as it was, and says the same", () => {
		const belief = beliefAfter(prior, curve, tests);
		const back: Belief = JSON.parse(JSON.stringify(belief));
		expect(back).toEqual(belief);
		expect(strengthNow(back, aged(25)).lowGPerL).toBe(strengthNow(belief, aged(25)).lowGPerL);
	});
	it("has weights that sum to 1, and quantiles that agree with the chance under them", () => {
		const belief = beliefAfter(prior, curve, tests);
		expect(belief.weights.reduce((sum, weight) => sum + weight, 0)).toBeCloseTo(1, 12);
		const now = strengthNow(belief, aged(18));
		for (const chance of [0.01, 0.05, 0.3, 0.95]) {
			expectNear(now.chanceUnder(now.quantileGPerL(chance)), chance, 1e-6);
			expect(strengthQuantileGPerL(belief, aged(18), chance)).toBe(now.quantileGPerL(chance));
		}
	});
	it("marks a reading of 1 mg/L (below 2.5 g/L) on a day-1 batch of 5 g/L as doubtful, and no expected one", () => {
		const odd = strengthTestOf(comparatorUnevenSteps, dilution, 1, aged(1));
		expect(beliefAfter(prior, curve, [odd]).evidence[0]).toMatchObject({ doubtful: true });
		expect(beliefAfter(prior, curve, tests).evidence.every(({ doubtful }) => !doubtful)).toBe(true);
	});
	it("marks a number as doubtful by its tail: 2.4 g/L on day 1 is, 4.6 g/L isn't", () => {
		const number = (measuredGPerL: number): StrengthTest => ({
			kind: "number",
			exposure: aged(1),
			logSd: 0.12,
			measuredGPerL,
			grossShare: 0.01,
			grossLnSpan: 5,
		});
		expect(beliefAfter(prior, curve, [number(2.4)]).evidence[0]!.doubtful).toBe(true);
		expect(beliefAfter(prior, curve, [number(4.6)]).evidence[0]!.doubtful).toBe(false);
	});
	it("still falls from 4.9 to below 3.2 g/L after a doubtful reading of less than 2.5: it is marked, not thrown away", () => {
		const odd = strengthTestOf(certain, dilution, 1, aged(1));
		expect(strengthNow(beliefAfter(prior, curve, [odd]), aged(1)).medianGPerL).toBeLessThan(3.2);
	});
	it("is left as it was by a reading of any kit that nothing explains, and says that they contradict each other", () => {
		// 60 days at 30 °C and 12 g/L taken by the sun: no batch of 5 g/L has anything left, whatever its rate.
		const gone = { equivalentDaysAt25C: 90, sunLossGPerL: 400 };
		const before = beliefAfter(prior, curve, []);
		for (const [kit, reading] of [
			[comparatorUnevenSteps, 2],
			[comparatorWholeSteps, 5],
			[dropCount, 20],
			[dipStrip, 3],
			[photometer, 2],
			[photometer, 5],
		] as const) {
			const after = beliefAfter(prior, { ...curve, solution: { ...curve.solution, hoclFraction: 0 } }, [
				strengthTestOf(kit, dilution, reading, gone),
			]);
			expect(after.evidence[0]).toMatchObject({ doubtful: true, contradicts: true });
			expectNear(momentsOf(after).lnInitialMean, momentsOf(before).lnInitialMean, 0.05);
			expect(after.weights.every(Number.isFinite)).toBe(true);
		}
	});
	it("follows a second reading that says the same as a first one that was hardly possible: 0 mg/L twice in the first hours", () => {
		const none = strengthTestOf(comparatorUnevenSteps, { sampleMl: 1, madeUpToL: 1.25 }, 0, aged(0.1));
		const [first, second] = beliefAfter(prior, curve, [none, none]).evidence;
		expect(first).toMatchObject({ contradicts: true });
		expect(second!.evidence).toBeGreaterThan(first!.evidence);
	});
	it("refuses a reading that no belief allows, and a prior of -5 g/L", () => {
		const impossible: BandTest = { kind: "band", exposure: aged(1), logSd: 0.1, edgesGPerL: [1e4], chances: [0, 1] };
		expect(() => beliefAfter(prior, curve, [impossible])).toThrow(/impossible/);
		expect(() => beliefAfter({ ...prior, medianInitialGPerL: -5 }, curve, [])).toThrow(/median initial strength in g\/L/);
	});
	it("takes any other curve: the same curve given as a function leaves the same belief", () => {
		const given = (initial: number, rate: number, exposure: { equivalentDaysAt25C: number; sunLossGPerL: number }) =>
			strengthByCurveGPerL(curve, initial, rate, exposure);
		const [one, other] = [beliefAfter(prior, curve, tests), beliefAfter(prior, given, tests)];
		expectNear(strengthNow(one, aged(22)).medianGPerL, strengthNow(other, aged(22)).medianGPerL, 1e-9);
	});
});

describe("the standard curve over a grid", () => {
	it("is strengthAfterGPerL at every node within 1e-9 g/L, with and without sun, for both exponents", () => {
		const initials = Float64Array.of(2, 4.7, 5, 9);
		const rates = Float64Array.of(1e-4, 0.1, 1, 30);
		for (const strengthExponent of [0, 2] as const) {
			for (const sunLossGPerL of [0, 0.4, 6]) {
				for (const days of [0, 1e-7, 0.01, 3, 40]) {
					const exposure = { equivalentDaysAt25C: days, sunLossGPerL };
					const grid = strengthsOverGridGPerL({ ...curve, strengthExponent }, initials, rates, exposure);
					grid.forEach((strength, node) => {
						const [initial, rate] = [initials[Math.floor(node / 4)]!, rates[node % 4]!];
						expectNear(strength, strengthByCurveGPerL({ ...curve, strengthExponent }, initial, rate, exposure), 1e-9);
					});
				}
			}
		}
	});
});
