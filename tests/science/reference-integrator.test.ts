import fc from "fast-check";
import { dailyMeanRateRatio } from "../../src/science/climate.js";
import {
	compositionAt,
	daysUntilFraction,
	heatRatesAt,
	strengthAfterHeatGPerL,
	strengthAfterStagesGPerL,
} from "../../src/science/decay.js";
import { rateRatioTo25C } from "../../src/science/rate-constants.js";
import { strengthAfterGPerL } from "../../src/science/strength-curve.js";
import { strengthGPerLOfMolar } from "../../src/science/units.js";
import { referenceEnd } from "./reference-integral.js";

// Source: Hairer & Wanner's extrapolation integrator ODEX (npm odex), which knows nothing of the closed forms.
const between = (min: number, max: number) => fc.double({ min, max, noNaN: true });
const strengths = between(2, 10);
const pHs = between(8.4, 13);
const temperatures = between(5, 60);
const multipliers = between(0.01, 20);
const salts = between(0.07, 0.99);
const agreed = (actual: number, expected: number, scale: number) => Math.abs(actual - expected) <= 1e-6 * scale;

describe("closed forms against a general-purpose integrator, to 1e-6 over the whole validity range", () => {
	it("agree for heat at one temperature, 2 to 10 g/L, pH 8.4 to 13, 5 to 60 °C, up to 400 days", () => {
		fc.assert(
			fc.property(strengths, pHs, temperatures, salts, multipliers, between(0, 400), (s, pH, t, mu, m, days) => {
				const start = compositionAt(s, pH, 25, mu);
				const rates = heatRatesAt(start.hoclMolPerL, t, mu, m);
				const left = referenceEnd(
					(_, o) => -o * (rates.acidPerDay + rates.alkalinePerMPerDay * o),
					start.hypochloriteMolPerL,
					days,
				);
				const closed = strengthAfterHeatGPerL(start, rates, days);
				return agreed(closed, strengthGPerLOfMolar(start.hoclMolPerL + left), closed);
			}),
			{ numRuns: 200, seed: 11 },
		);
	});

	it("agree for ten stages of different temperature", () => {
		const stage = fc.record({ temperatureC: temperatures, days: between(0.1, 5) });
		fc.assert(
			fc.property(strengths, between(8.4, 11), fc.array(stage, { minLength: 10, maxLength: 10 }), (s, pH, stages) => {
				const start = compositionAt(s, pH, 25, 0.5);
				const steps = stages.map(({ temperatureC, days }) => ({
					rates: heatRatesAt(start.hoclMolPerL, temperatureC, 0.5),
					days,
				}));
				let left = start.hypochloriteMolPerL;
				for (const { rates, days } of steps) {
					left = referenceEnd((_, o) => -o * (rates.acidPerDay + rates.alkalinePerMPerDay * o), left, days);
				}
				const closed = strengthAfterStagesGPerL(start, steps);
				return agreed(closed, strengthGPerLOfMolar(start.hoclMolPerL + left), closed);
			}),
			{ numRuns: 40, seed: 12 },
		);
	});

	it("agree for the reduced curve with a steady loss to light, down to an empty batch", () => {
		const inSun = fc.record({ a0: between(0, 0.1), rate: between(0, 0.5), sun: between(0, 6), days: between(0.01, 100) });
		fc.assert(
			fc.property(strengths, strengths, multipliers, inSun, (s, reference, m, { a0, rate, sun, days }) => {
				const solution = { initialStrengthGPerL: reference, hoclFraction: a0, lossRateAt25CPerDay: rate };
				const k = rate * m * (s / reference) ** 2;
				const left = referenceEnd((_, o) => -k * o - sun / days, s * (1 - a0), days);
				const closed = strengthAfterGPerL(s, m, solution, days, sun);
				return agreed(closed, s * a0 + Math.max(0, left), s);
			}),
			{ numRuns: 200, seed: 13 },
		);
	});

	it("agree for a day whose temperature is a sine", () => {
		fc.assert(
			fc.property(between(15, 45), between(0, 10), (mean, amplitude) => {
				const sum = referenceEnd((x) => rateRatioTo25C(mean + amplitude * Math.sin(2 * Math.PI * x)), 0, 1);
				return agreed(dailyMeanRateRatio(mean, amplitude), sum, sum);
			}),
			{ numRuns: 50, seed: 14 },
		);
	});

	it("find back the day at which a share of the strength is left", () => {
		fc.assert(
			fc.property(strengths, pHs, temperatures, between(0.3, 1), (s, pH, t, fraction) => {
				const start = compositionAt(s, pH, 25, 0.5);
				const rates = heatRatesAt(start.hoclMolPerL, t, 0.5);
				const days = daysUntilFraction(start, rates, fraction);
				return agreed(strengthAfterHeatGPerL(start, rates, days), fraction * s, s);
			}),
			{ numRuns: 200, seed: 15 },
		);
	});
});
