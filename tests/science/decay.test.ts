import { defaultConstants } from "../../src/science/constants.js";
import {
	compositionAt,
	daysUntilFraction,
	heatRatesAt,
	strengthAfterHeatGPerL,
	strengthAfterStagesGPerL,
} from "../../src/science/decay.js";
import { hoclFractionAt, mixedPka, pkaOfHypochlorousAcid } from "../../src/science/pka.js";
import { SECONDS_PER_DAY } from "../../src/science/units.js";
import published from "../published/decay.json" with { type: "json" };

const within = (actual: number, expected: number, relative: number) =>
	expect(Math.abs(actual / expected - 1)).toBeLessThanOrEqual(relative);
const batch = (pH: number, strengthGPerL = 5) => compositionAt(strengthGPerL, pH, 25, 0.5);
const ratesOf = (pH: number, temperatureC: number, strengthGPerL = 5) =>
	heatRatesAt(batch(pH, strengthGPerL).hoclMolPerL, temperatureC, 0.5);

describe("strength of a 5 g/L batch kept in the dark", () => {
	// Source of the tables: closed form against Runge-Kutta, computed independently from Adam et al. 1992 and Adam & Gordon 1999.
	it("starts from the composition and rates of the worked case: pH 9.00 at 25 °C, kept at 30 °C", () => {
		const expected = published.workedCase;
		const composition = batch(9);
		const rates = ratesOf(9, 30);
		within(mixedPka(25, 0.5), expected.mixedPka, expected.relativeTolerance);
		within(hoclFractionAt(9, mixedPka(25, 0.5)), expected.hoclFraction, expected.relativeTolerance);
		within(composition.hoclMolPerL, expected.hoclMolPerL, expected.relativeTolerance);
		within(composition.hypochloriteMolPerL, expected.hypochloriteMolPerL, expected.relativeTolerance);
		within(rates.acidPerDay, expected.acidPerDay, expected.relativeTolerance);
		within(rates.alkalinePerMPerDay, expected.alkalinePerMPerDay, expected.relativeTolerance);
	});
	it.each(published.strength.checks)(
		"is $value g/L after $days days at pH $pH, $temperatureC °C",
		({ pH, temperatureC, days, value }) => {
			const strength = strengthAfterHeatGPerL(batch(pH), ratesOf(pH, temperatureC), days);
			expect(Math.abs(strength - value)).toBeLessThanOrEqual(published.strength.tolerance);
		},
	);
	it("is 4.1125 g/L after 14 days of 12 h at 20 °C and 12 h at 35 °C, but would seem 4.2548 g/L at the mean of 27.5 °C", () => {
		const { value, atTheMeanOf27_5C, tolerance } = published.alternatingDays;
		const stages = Array.from({ length: 28 }, (_, i) => ({ rates: ratesOf(9, i % 2 ? 35 : 20), days: 0.5 }));
		expect(Math.abs(strengthAfterStagesGPerL(batch(9), stages) - value)).toBeLessThanOrEqual(tolerance);
		const atMean = strengthAfterHeatGPerL(batch(9), ratesOf(9, 27.5), 14);
		expect(Math.abs(atMean - atTheMeanOf27_5C)).toBeLessThanOrEqual(tolerance);
	});
	it.each(published.daysUntilFraction.checks)(
		"reaches $fraction of itself in $value days at pH $pH, $temperatureC °C",
		({ pH, temperatureC, fraction, value, tolerance }) => {
			expect(Math.abs(daysUntilFraction(batch(pH), ratesOf(pH, temperatureC), fraction) - value)).toBeLessThanOrEqual(tolerance);
		},
	);
	it.each(published.acidLossRateAt25C.checks)(
		"loses $value 1/day of its hypochlorite at 25 °C by the acid path at pH $pH, $strengthGPerL g/L",
		({ pH, strengthGPerL, value }) => {
			within(ratesOf(pH, 25, strengthGPerL).acidPerDay, value, published.acidLossRateAt25C.relativeTolerance);
		},
	);
	it("is 10 % down in 6.3 days, 1.8 times as fast, if the salt's effect on the acid constant is left out", () => {
		const share = hoclFractionAt(9, pkaOfHypochlorousAcid(25));
		const hocl = (batch(9).hoclMolPerL + batch(9).hypochloriteMolPerL) * share;
		const saltless = { hoclMolPerL: hocl, hypochloriteMolPerL: (hocl / share) * (1 - share) };
		const rates = heatRatesAt(hocl, 25, 0.5);
		expect(Math.abs(daysUntilFraction(saltless, rates, 0.9) - 6.3)).toBeLessThan(0.05);
		within(rates.acidPerDay / ratesOf(9, 25).acidPerDay, 1.8, 0.02);
	});
});

describe("dependence of the first loss on pH at 5 g/L", () => {
	const acidLoss = (pH: number) => {
		const share = hoclFractionAt(pH, mixedPka(25, 0.5));
		const total = batch(9).hoclMolPerL + batch(9).hypochloriteMolPerL;
		const { acidPerDay, alkalinePerMPerDay } = heatRatesAt(total * share, 30, 0.5);
		const left = total * (1 - share);
		return { acid: acidPerDay * left, alkaline: alkalinePerMPerDay * left * left };
	};
	// Source: computed independently from the rate law h²·O; the rate constant goes with h².
	it("is -4.4 to -4.5 in ln per pH unit at pH 9; 3.9 times from 9.3 to 9, 96 times from 10 to 9, 67 times from 9 to 8", () => {
		const { lnRatePerPH, lossRateFrom9_3To9, fromPH10To9, fromPH9To8 } = published.rateSlopes.checks;
		const constantAt = (pH: number) => hoclFractionAt(pH, mixedPka(25, 0.5)) ** 2;
		const slope = Math.log(constantAt(9.05) / constantAt(8.95)) / 0.1;
		expect(slope).toBeGreaterThan(lnRatePerPH[0]!);
		expect(slope).toBeLessThan(lnRatePerPH[1]!);
		within(ratesOf(9, 25).acidPerDay / ratesOf(9.3, 25).acidPerDay, lossRateFrom9_3To9, 0.01);
		within(ratesOf(9, 25).acidPerDay / ratesOf(10, 25).acidPerDay, fromPH10To9, 0.01);
		within(constantAt(8) / constantAt(9), fromPH9To8, 0.01);
	});
	it.each(published.acidOverAlkaline.checks)(
		"makes the acid path about $value times the alkaline one at pH $pH, 30 °C",
		({ pH, value }) => {
			const { acid, alkaline } = acidLoss(pH);
			expect(Math.abs(Math.log10(acid / alkaline) - Math.log10(value))).toBeLessThan(0.2);
		},
	);
});

describe("validity of the thermal model", () => {
	it("refuses 1.9 and 10.1 g/L, pH 8.3 and 13.1, a pH reading at 41 °C and 1.1 mol/L", () => {
		for (const [s, pH, t, mu] of [
			[1.9, 9, 25, 0.5],
			[10.1, 9, 25, 0.5],
			[5, 8.3, 25, 0.5],
			[5, 13.1, 25, 0.5],
			[5, 9, 41, 0.5],
			[5, 9, 25, 1.1],
		] as const) {
			expect(() => compositionAt(s, pH, t, mu)).toThrow(RangeError);
		}
	});
	it("refuses 4 and 61 °C, a negative multiplier and negative days", () => {
		expect(() => heatRatesAt(1e-3, 4, 0.5)).toThrow(RangeError);
		expect(() => heatRatesAt(1e-3, 61, 0.5)).toThrow(RangeError);
		expect(() => heatRatesAt(1e-3, 25, 0.5, -1)).toThrow(RangeError);
		expect(() => strengthAfterHeatGPerL(batch(9), ratesOf(9, 25), -1)).toThrow(RangeError);
	});
	it("refuses a share below 0.3, where the batch counts as spent, and above 1", () => {
		expect(() => daysUntilFraction(batch(9), ratesOf(9, 25), 0.29)).toThrow(/spent/);
		expect(() => daysUntilFraction(batch(9), ratesOf(9, 25), 1.01)).toThrow(RangeError);
		expect(daysUntilFraction(batch(9), ratesOf(9, 25), 1)).toBe(0);
	});
	it("is three times as fast for an acid-path factor of 9 as for 3", () => {
		const fast = heatRatesAt(1e-3, 25, 0.5, 1, { ...defaultConstants, acidPathLossFactor: 9 });
		expect(fast.acidPerDay / heatRatesAt(1e-3, 25, 0.5).acidPerDay).toBeCloseTo(3, 12);
		expect(fast.acidPerDay).toBeGreaterThan(0.01 * 1e-6 * SECONDS_PER_DAY);
	});
});
