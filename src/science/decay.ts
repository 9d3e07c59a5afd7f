import { type ChosenConstants, defaultConstants } from "./constants.js";
import { hoclFractionAt, mixedPka } from "./pka.js";
import { acidPathK3PerM2PerS, alkalinePathK2PerMPerS } from "./rate-constants.js";
import { molPerLOfStrength, SECONDS_PER_DAY, strengthGPerLOfMolar } from "./units.js";
import { valueWithin } from "./valid-range.js";

/** Share of the first strength below which the model no longer holds: the batch counts as spent. */
export const SPENT_FRACTION = 0.3;
/** Lowest and highest pH for which HOCl may be held constant. */
export const STORABLE_MIN_PH = 8.4;
export const STORABLE_MAX_PH = 13;

/** What a stock solution is made of, mol/L. */
export interface Composition {
	readonly hoclMolPerL: number;
	readonly hypochloriteMolPerL: number;
}

/** How fast heat takes hypochlorite: in first order (acid path) and in second order (alkaline path). */
export interface HeatRates {
	readonly acidPerDay: number;
	readonly alkalinePerMPerDay: number;
}

/**
 * Composition of a fresh batch from its strength and pH.
 *
 * @param strengthGPerL 2 to 10 g/L as Cl2
 * @param pH 8.4 to 13; more acid and HOCl doesn't stay constant
 * @param pHMeasuredAtC temperature of the pH reading, 0 to 40 °C
 * @param ionicStrengthMolPerL 0 to 1 mol/L
 * @param constants the uncertain constants
 * @returns HOCl and OCl- in mol/L
 * @throws RangeError outside these ranges
 *
 * Source: Morris 1966 and Davies 1962, see pka.ts.
 */
export function compositionAt(
	strengthGPerL: number,
	pH: number,
	pHMeasuredAtC: number,
	ionicStrengthMolPerL: number,
	constants: ChosenConstants = defaultConstants,
): Composition {
	const total = molPerLOfStrength(valueWithin("strength in g/L", strengthGPerL, 2, 10));
	valueWithin("pH", pH, STORABLE_MIN_PH, STORABLE_MAX_PH, "a more acid solution does not keep");
	const hocl = total * hoclFractionAt(pH, mixedPka(pHMeasuredAtC, ionicStrengthMolPerL, constants));
	return { hoclMolPerL: hocl, hypochloriteMolPerL: total - hocl };
}

/**
 * Rates of loss by heat at one temperature.
 *
 * kap = m·factor·k3(t)·h² and q = m·k2(t, mu): the net reaction 3 OCl- > ClO3- + 2 Cl- moves no proton, so h = [HOCl] stays.
 *
 * @param hoclMolPerL h, at least 0
 * @param temperatureC 5 to 60 °C
 * @param ionicStrengthMolPerL 0 to 6 mol/L
 * @param rateMultiplier m of this batch, at least 0
 * @param constants the uncertain constants
 * @returns kap in 1/day and q in 1/(M day)
 * @throws RangeError outside these ranges
 *
 * Source: acid path Adam et al. 1992, Inorg. Chem. 31:3534, and Busch et al. 2019, PCCP 21:19342; alkaline path Adam & Gordon
 * 1999, Inorg. Chem. 38:1299. The water utilities' equation is the alkaline path alone; at pH 9 it is 100 times too slow.
 */
export function heatRatesAt(
	hoclMolPerL: number,
	temperatureC: number,
	ionicStrengthMolPerL: number,
	rateMultiplier = 1,
	constants: ChosenConstants = defaultConstants,
): HeatRates {
	const h = valueWithin("HOCl in mol/L", hoclMolPerL, 0, 1);
	const m = valueWithin("rate multiplier", rateMultiplier, 0, Number.MAX_VALUE);
	return {
		acidPerDay: m * constants.acidPathLossFactor * acidPathK3PerM2PerS(temperatureC) * h * h * SECONDS_PER_DAY,
		alkalinePerMPerDay: m * alkalinePathK2PerMPerS(temperatureC, ionicStrengthMolPerL) * SECONDS_PER_DAY,
	};
}

/** Hypochlorite left, mol/L, after days at constant rates: integral of -dO/dt = kap·O + q·O², written so that kap may be 0. */
function hypochloriteAfter(hypochloriteMolPerL: number, { acidPerDay, alkalinePerMPerDay }: HeatRates, days: number): number {
	const exponent = acidPerDay * valueWithin("days", days, 0, Number.MAX_VALUE);
	const meanDecay = exponent > 0 ? -Math.expm1(-exponent) / exponent : 1;
	return (hypochloriteMolPerL * Math.exp(-exponent)) / (1 + alkalinePerMPerDay * hypochloriteMolPerL * days * meanDecay);
}

/**
 * Strength after a time in the dark at one temperature.
 *
 * @param composition of the batch at the start
 * @param rates for the temperature
 * @param days at least 0
 * @returns g/L as Cl2. It levels off at the HOCl: below `SPENT_FRACTION` of the first strength treat the batch as spent.
 * @throws RangeError for negative days
 *
 * Source: closed form of -dO/dt = kap·O + q·O², S = 70.906·(h + O); see `heatRatesAt`.
 */
export function strengthAfterHeatGPerL(composition: Composition, rates: HeatRates, days: number): number {
	const left = hypochloriteAfter(composition.hypochloriteMolPerL, rates, days);
	return strengthGPerLOfMolar(composition.hoclMolPerL + left);
}

/**
 * Strength after stages of different temperature in the dark, one after the other; exact for each stage.
 *
 * @param composition of the batch at the start
 * @param stages rates and days of each stage, in order
 * @returns g/L as Cl2, as `strengthAfterHeatGPerL`
 * @throws RangeError for negative days
 *
 * Source: as for `strengthAfterHeatGPerL`; O carries all that a stage hands to the next.
 */
export function strengthAfterStagesGPerL(
	composition: Composition,
	stages: Iterable<{ readonly rates: HeatRates; readonly days: number }>,
): number {
	let left = composition.hypochloriteMolPerL;
	for (const { rates, days } of stages) left = hypochloriteAfter(left, rates, days);
	return strengthGPerLOfMolar(composition.hoclMolPerL + left);
}

/**
 * Days in the dark at one temperature until a share of the strength is left.
 *
 * @param composition of the batch at the start
 * @param rates for the temperature
 * @param fraction share that is left, 0.3 to 1
 * @returns days, 0 for 1, Infinity if nothing is lost
 * @throws RangeError for a fraction below `SPENT_FRACTION` or above 1, or at or below the share of HOCl
 *
 * Source: inverse of `strengthAfterHeatGPerL`.
 */
export function daysUntilFraction(composition: Composition, rates: HeatRates, fraction: number): number {
	const { hoclMolPerL: hocl, hypochloriteMolPerL: hypochlorite } = composition;
	const share = valueWithin("fraction of the strength left", fraction, SPENT_FRACTION, 1, "below it the batch is spent");
	const left = share * (hocl + hypochlorite) - hocl;
	if (!(left > 0)) throw new RangeError(`the HOCl alone is more than ${fraction} of the strength`);
	const excess = (hypochlorite - left) / left;
	if (excess <= 0) return 0;
	const { acidPerDay, alkalinePerMPerDay } = rates;
	if (acidPerDay === 0) return excess / (alkalinePerMPerDay * hypochlorite);
	return Math.log1p((excess * acidPerDay) / (acidPerDay + alkalinePerMPerDay * hypochlorite)) / acidPerDay;
}
