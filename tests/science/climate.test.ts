import fc from "fast-check";
import {
	checkedClimate,
	climateOfDay,
	dailyMeanRateRatio,
	equivalentDaysPerDay,
	type MonthlyClimate,
} from "../../src/science/climate.js";
import { rateRatioTo25C } from "../../src/science/rate-constants.js";
import published from "../published/decay.json" with { type: "json" };

const month = (dayMeanC: number, nightMeanC: number, cloudFraction = 0.5): MonthlyClimate => ({
	dayMeanC,
	nightMeanC,
	cloudFraction,
});
const steady = Array.from({ length: 12 }, () => month(30, 20));

describe("heat of a day", () => {
	// Source: computed independently from Adam et al. 1992.
	it("counts 1.4234 equivalent days for a sine of 28 ± 7 °C, where 28 °C alone would count 1.3063", () => {
		const { meanC, amplitudeC, meanRateRatio, rateRatioAtMean, tolerance } = published.sineDay;
		expect(Math.abs(dailyMeanRateRatio(meanC, amplitudeC) - meanRateRatio)).toBeLessThanOrEqual(tolerance);
		expect(Math.abs(rateRatioTo25C(meanC) - rateRatioAtMean)).toBeLessThanOrEqual(tolerance);
	});
	it("counts 21.15 equivalent days for 14 days of 12 h at 20 °C and 12 h at 35 °C", () => {
		const { equivalentDaysAt25C, equivalentDaysTolerance } = published.alternatingDays;
		const days = 7 * (rateRatioTo25C(20) + rateRatioTo25C(35));
		expect(Math.abs(days - equivalentDaysAt25C)).toBeLessThanOrEqual(equivalentDaysTolerance);
	});
	it("takes the day for a sine with the two half-day means: 28 ± 7 °C has 32.456 °C by day and 23.544 °C by night", () => {
		const half = (2 * 7) / Math.PI;
		expect(equivalentDaysPerDay(28 + half, 28 - half)).toBeCloseTo(dailyMeanRateRatio(28, 7), 12);
	});
	it("never counts less than the day's mean temperature, nor than two steady halves: loss is convex", () => {
		const celsius = fc.double({ min: 18, max: 40, noNaN: true });
		fc.assert(
			fc.property(celsius, celsius, (day, night) => {
				const sine = equivalentDaysPerDay(day, night);
				const halves = (rateRatioTo25C(day) + rateRatioTo25C(night)) / 2;
				expect(sine).toBeGreaterThanOrEqual(halves - 1e-9);
				expect(halves).toBeGreaterThanOrEqual(rateRatioTo25C((day + night) / 2) - 1e-12);
			}),
			{ seed: 31 },
		);
	});
	it("counts hours below 5 °C as 5 °C, and refuses a day whose hottest hour is above 60 °C", () => {
		expect(equivalentDaysPerDay(-10, -20)).toBeCloseTo(rateRatioTo25C(5), 12);
		expect(() => equivalentDaysPerDay(60, 30)).toThrow(/hottest hour of the day in °C must be 5 to 60/);
	});
});

describe("climate of a day", () => {
	it("is the month's own in its middle, and half of each at 15.5 days from the middle of January", () => {
		const climate = steady.map((m, i) => (i === 1 ? month(34, 24, 0.1) : m));
		expect(climateOfDay(climate, 31 + 14.5).dayMeanC).toBeCloseTo(34, 10);
		expect(climateOfDay(climate, 16).dayMeanC).toBeCloseTo(30, 10);
		const halfway = climateOfDay(climate, 16 + 14.75);
		expect(halfway.dayMeanC).toBeCloseTo(32, 10);
		expect(halfway.nightMeanC).toBeCloseTo(22, 10);
		expect(halfway.cloudFraction).toBeCloseTo(0.3, 10);
	});
	it("runs on over the new year without a step", () => {
		const climate = steady.map((m, i) => (i === 0 ? month(36, 26) : m));
		expect(climateOfDay(climate, 366).dayMeanC).toBeCloseTo(climateOfDay(climate, 1).dayMeanC, 10);
		const steps = Array.from(
			{ length: 365 },
			(_, i) => climateOfDay(climate, i + 2 > 365 ? i - 363 : i + 2).dayMeanC - climateOfDay(climate, i + 1).dayMeanC,
		);
		expect(Math.max(...steps.map(Math.abs))).toBeLessThanOrEqual(6 / 29.5 + 1e-9);
	});
	it("refuses 11 months, a day mean of 46 °C, a night mean of -21 °C, a cloud fraction of 1.1 and day 0", () => {
		expect(() => checkedClimate(steady.slice(1))).toThrow(/12 months/);
		expect(() => checkedClimate([...steady.slice(1), month(46, 20)])).toThrow(/day mean of month 12 in °C/);
		expect(() => checkedClimate([...steady.slice(1), month(30, -21)])).toThrow(RangeError);
		expect(() => checkedClimate([...steady.slice(1), month(30, 20, 1.1)])).toThrow(RangeError);
		expect(() => climateOfDay(steady, 0)).toThrow(RangeError);
	});
});
