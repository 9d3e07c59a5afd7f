import { beliefAfter } from "../../src/science/belief.js";
import { dueCurveOf } from "../../src/science/due-curve.js";
import { equivalentDaysUntilUnder } from "../../src/science/due-days.js";
import { dueInstantMs, dueInstantsMs, sunLossPerEquivalentDay } from "../../src/science/due-instants.js";
import { exposureBetween, exposureCalendar, type StoragePlace } from "../../src/science/exposure.js";
import { comparatorWholeSteps, dropCount } from "../../src/science/kits.js";
import { strengthTestOf } from "../../src/science/reading.js";
import { retestPlan } from "../../src/science/retest.js";
import { chanceUnder } from "../../src/science/strength-now.js";
import type { StrengthTest } from "../../src/science/strength-test.js";
import { chanceFrom, inventedBatch, inventedReading } from "./invented-batches.js";
import { expectNear } from "./near.js";

const DAY = 86_400_000;
const made = Date.UTC(2026, 4, 20);
const oneInTwo = { sampleMl: 1, madeUpToL: 2 };

// Invented: a place at 12° north with a hot April and a cloudy August.
const climate = [33, 36, 39, 41, 39, 36, 33, 32, 33, 36, 35, 33].map((dayMeanC, i) => ({
	dayMeanC: dayMeanC - 6,
	nightMeanC: dayMeanC - 15,
	cloudFraction: i > 5 && i < 9 ? 0.7 : 0.2,
}));
const inside: StoragePlace = {
	latitudeDeg: 12,
	altitudeM: 300,
	climate,
	wall: "opaque",
	exposure: "indoors",
	solutionVolumeL: 5,
	litAreaM2: 0.03,
};
const outside: StoragePlace = { ...inside, wall: "translucent", exposure: "directSun" };
const [dark, sunny] = [exposureCalendar(inside), exposureCalendar(outside)];

/** An invented batch after tests on random days in steady sun, and its equivalent days at the last test. */
function lived(start: number, sunADay: number) {
	const chance = chanceFrom(start);
	const batch = inventedBatch(chance);
	const tests: StrengthTest[] = [];
	let days = 0;
	for (let left = chance.pick([0, 1, 2, 3]); left > 0; left--) {
		const next = days + 1 + 9 * chance.uniform();
		const exposure = { equivalentDaysAt25C: next, sunLossGPerL: next * sunADay };
		if (batch.strengthGPerL(exposure) < 0.4 * batch.initialGPerL) break;
		days = next;
		const kit = chance.pick([comparatorWholeSteps, dropCount]);
		tests.push(strengthTestOf(kit, oneInTwo, inventedReading(chance, kit, oneInTwo, batch.strengthGPerL(exposure)), exposure));
	}
	return { belief: beliefAfter(batch.prior, batch.curve, tests), days, tolerance: chance.pick([0.02, 0.05, 0.1, 0.2]) };
}

/** Equivalent days on the full grid, by bisection, in steady sun. */
function daysOnGrid({ belief, days, tolerance }: ReturnType<typeof lived>, limitGPerL: number, sunADay: number): number {
	let [low, high] = [-8, Math.log(40_000)];
	while (high - low > 1e-5) {
		const middle = (low + high) / 2;
		const total = days + Math.exp(middle);
		const exposure = { equivalentDaysAt25C: total, sunLossGPerL: total * sunADay };
		if (chanceUnder(belief, exposure, limitGPerL) > tolerance) high = middle;
		else low = middle;
	}
	return Math.exp(low);
}

describe("due days by eight numbers, over 60 invented batches with 0 to 3 tests", () => {
	// Source: bisection of the chance on the full grid, which lattice integration is held to.
	it.each([
		[0, 0.04, 0.005],
		[0.005, 0.35, 0.01],
		[0.05, 0.35, 0.01],
	])(
		"with %d g/L of sun a day are at most so much earlier (%d) and later (%d) than on the grid",
		(sunADay, early, late) => {
			for (let start = 1; start <= 20; start++) {
				const story = lived(start * 7919, sunADay);
				const reference = { equivalentDaysAt25C: story.days, sunLossGPerL: story.days * sunADay };
				const curve = dueCurveOf(story.belief, reference, story.tolerance);
				for (const share of [0.97, 0.9, 0.75, 0.55]) {
					const limitGPerL = share * curve.lowGPerL;
					const exact = daysOnGrid(story, limitGPerL, sunADay);
					// Beyond half a century nobody waits, and the short form keeps an earlier rate on purpose.
					if (exact > 18_000) continue;
					const ratio = equivalentDaysUntilUnder(curve, limitGPerL, sunADay) / exact;
					expect(ratio).toBeGreaterThan(1 - early);
					expect(ratio).toBeLessThan(1 + late);
				}
			}
		},
		60_000,
	);
	it("are fewer the more light falls and the higher the limit is", () => {
		const { belief } = lived(5, 0);
		const curve = dueCurveOf(belief, { equivalentDaysAt25C: 30, sunLossGPerL: 0 }, 0.05);
		const limit = 0.8 * curve.lowGPerL;
		const bySun = [0, 0.001, 0.01, 0.1, 1].map((sun) => equivalentDaysUntilUnder(curve, limit, sun));
		expect([...bySun].sort((a, b) => b - a)).toEqual(bySun);
		const byLimit = [0.3, 0.5, 0.7, 0.9, 0.99].map((share) => equivalentDaysUntilUnder(curve, share * curve.lowGPerL));
		expect([...byLimit].sort((a, b) => b - a)).toEqual(byLimit);
	});
	it("refuse a limit of 0 g/L, a negative sun loss and a tolerance of 0.6", () => {
		const { belief } = lived(5, 0);
		const reference = { equivalentDaysAt25C: 30, sunLossGPerL: 0 };
		const curve = dueCurveOf(belief, reference, 0.05);
		expect(() => equivalentDaysUntilUnder(curve, 0)).toThrow(RangeError);
		expect(() => equivalentDaysUntilUnder(curve, 3, -1)).toThrow(RangeError);
		expect(() => dueCurveOf(belief, reference, 0.6)).toThrow(RangeError);
	});
});

describe("what light takes per equivalent day", () => {
	it("is never less than the mean of any of 400 stretches of up to 30 days in a sunny place", () => {
		const largest = sunLossPerEquivalentDay(sunny, 30);
		const chance = chanceFrom(3);
		const year = 365.2425 * DAY;
		for (let n = 0; n < 400; n++) {
			const part = Math.floor(365 * chance.uniform());
			const from = 56 * year + (part * year) / 365;
			const sum = exposureBetween(sunny, from, from + (1 + Math.floor(29 * chance.uniform())) * (year / 365));
			expect(sum.sunLossGPerL / sum.equivalentDaysAt25C).toBeLessThanOrEqual(largest[part]! * (1 + 1e-9));
		}
		expect(Math.max(...largest) / Math.min(...largest)).toBeGreaterThan(1.1);
	});
	it("is 0 on every day where no light falls, and a horizon of 0 days is refused", () => {
		expect(sunLossPerEquivalentDay(dark, 30).every((loss) => loss === 0)).toBe(true);
		expect(() => sunLossPerEquivalentDay(dark, 0)).toThrow(RangeError);
	});
});

describe("due instants", () => {
	const belief = beliefAfter(
		{ medianInitialGPerL: 5, lnInitialSd: 0.15, medianRateMultiplier: 1, lnRateSd: 0.9 },
		{ solution: { initialStrengthGPerL: 5, hoclFraction: 0.0246, lossRateAt25CPerDay: 0.0094 }, strengthExponent: 2 },
		[],
	);
	const start = { equivalentDaysAt25C: 0, sunLossGPerL: 0 };
	const window = { shortestMs: DAY, longestMs: 60 * DAY };
	it.each([
		["a dark room", dark, 0.97],
		["the sun", sunny, 0.75],
	])("in %s come before those of the full plan, but not by much", (_, calendar, least) => {
		const curve = dueCurveOf(belief, start, 0.05);
		for (const limitGPerL of [2.5, 3, 3.4]) {
			const short = dueInstantMs(curve, calendar, made, limitGPerL, window) - made;
			const question = { belief, calendar, madeAtMs: made, nowMs: made, limitGPerL, tolerance: 0.05, window };
			const full = retestPlan(question).dueAtMs - made;
			expect(short / full).toBeGreaterThan(least);
			expect(short / full).toBeLessThan(1.005);
		}
	});
	it("stay within the window: 1 day for a batch under its limit already, 60 days for a limit of 0.3 g/L", () => {
		const curve = dueCurveOf(belief, start, 0.05);
		expect(dueInstantMs(curve, dark, made, 4.5, window)).toBe(made + DAY);
		expect(dueInstantMs(curve, dark, made, 0.3, window)).toBe(made + 60 * DAY);
	});
	it("are refused for columns of different lengths, an unknown place and a window that ends before it starts", () => {
		const columns = {
			lowGPerL: Float64Array.of(4),
			lnRateCoefficients: Float64Array.of(-5, 0, 0, 0, 0, 0),
			limitGPerL: Float64Array.of(3),
			referenceAtMs: Float64Array.of(made),
			place: Uint32Array.of(1),
		};
		expect(() => dueInstantsMs(columns, [dark], window)).toThrow(/place 1, of 1 known/);
		expect(() => dueInstantsMs({ ...columns, limitGPerL: new Float64Array(2) }, [dark], window)).toThrow(/all columns/);
		expect(() => dueInstantsMs(columns, [dark, sunny], { shortestMs: DAY, longestMs: 0 })).toThrow(RangeError);
	});
	it("by constant rate of 0.01 1/day are ln(4/3)/0.01 = 28.768 days at a steady 25 °C", () => {
		const steady = Array.from({ length: 12 }, () => ({ dayMeanC: 25, nightMeanC: 25, cloudFraction: 0 }));
		const calendar = exposureCalendar({ ...inside, climate: steady });
		const curve = { tolerance: 0.05, lowGPerL: 4, lnRateCoefficients: [Math.log(0.01), 0, 0, 0, 0, 0] };
		expectNear((dueInstantMs(curve, calendar, made, 3, window) - made) / DAY, 28.768207, 1e-5);
	});
});

describe("expected remaining life", () => {
	it("is 14 days where the life is all but certain to be 14 days at 25 °C, within 1 %", () => {
		// Closed form: S0·e^(-k·14) = limit, with S0 and rate known to 1 and 5 %; k = 0.02 1/day.
		const sure = beliefAfter(
			{ medianInitialGPerL: 5, lnInitialSd: 0.01, medianRateMultiplier: 1, lnRateSd: 0.05 },
			{ solution: { initialStrengthGPerL: 5, hoclFraction: 0, lossRateAt25CPerDay: 0.02 }, strengthExponent: 0 },
			[],
		);
		const steady = Array.from({ length: 12 }, () => ({ dayMeanC: 25, nightMeanC: 25, cloudFraction: 0 }));
		const calendar = exposureCalendar({ ...inside, climate: steady });
		const question = { belief: sure, calendar, madeAtMs: made, nowMs: made, limitGPerL: 5 * Math.exp(-0.28), tolerance: 0.05 };
		expectNear(retestPlan(question).expectedRemainingDays, 14, 0.14);
		expectNear(retestPlan({ ...question, nowMs: made + 10 * DAY }).expectedRemainingDays, 4, 0.1);
	});
});
