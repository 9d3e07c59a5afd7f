import { GAS_CONSTANT, kelvinOf } from "./units.js";
import { valueWithin } from "./valid-range.js";

/** Coldest and hottest temperature for which the rate constants are given here, °C. */
export const KINETICS_MIN_C = 5;
export const KINETICS_MAX_C = 60;

const acidPath = (temperatureK: number): number =>
	2.083e10 * temperatureK * Math.exp(-67 / GAS_CONSTANT) * Math.exp(-64_000 / (GAS_CONSTANT * temperatureK));

const acidPathAt25C = acidPath(kelvinOf(25));

/**
 * Second-order rate constant k2 of the loss of hypochlorite by the alkaline path, -d[OCl-]/dt = k2·[OCl-]².
 *
 * @param temperatureC 5 to 60 °C (measured 15 to 55 °C)
 * @param ionicStrengthMolPerL 0 to 6 mol/L (measured 1 to 6; below 0.8 the true rate is flat, so this is at most 1.2 times off)
 * @returns k2 in 1/(M s); it is the loss of all OCl-, not a third of it
 * @throws RangeError outside these ranges
 *
 * Source: Adam & Gordon 1999, Inorg. Chem. 38(6):1299-1304, abstract; low ionic strength: Lister 1956, Can. J. Chem. 34:465.
 */
export function alkalinePathK2PerMPerS(temperatureC: number, ionicStrengthMolPerL: number): number {
	const t = kelvinOf(valueWithin("temperature in °C", temperatureC, KINETICS_MIN_C, KINETICS_MAX_C));
	const mu = valueWithin("ionic strength in mol/L", ionicStrengthMolPerL, 0, 6);
	const atZero = 2.083e10 * t * Math.exp(-1.018e5 / (GAS_CONSTANT * t)) * Math.exp(-56.5 / GAS_CONSTANT);
	return 10 ** (0.149 * mu) * atZero;
}

/**
 * Third-order rate constant k3 of the loss by the acid path, -d[OCl-]/dt = factor·k3·[HOCl]²·[OCl-], in Eyring's form.
 *
 * @param temperatureC 5 to 60 °C (measured 15 to 50 °C)
 * @returns k3 in 1/(M² s); times `acidPathLossFactor` it is the total loss
 * @throws RangeError outside 5 to 60 °C
 *
 * Source: Adam, Suzuki, Gordon, Fábián 1992, Inorg. Chem. 31:3534-3541, abstract: ΔH‡ 64.0 kJ/mol, ΔS‡ -67 J/(mol K), in
 * 1.0 M NaClO4. Rate law: Busch et al. 2019, PCCP 21:19342.
 */
export function acidPathK3PerM2PerS(temperatureC: number): number {
	return acidPath(kelvinOf(valueWithin("temperature in °C", temperatureC, KINETICS_MIN_C, KINETICS_MAX_C)));
}

/**
 * How many times faster the acid path runs than at 25 °C: the equivalent days at 25 °C that one day counts for.
 *
 * @param temperatureC 5 to 60 °C
 * @returns k3(t)/k3(25 °C), 1 at 25 °C
 * @throws RangeError outside 5 to 60 °C
 *
 * Source: as for `acidPathK3PerM2PerS`.
 */
export function rateRatioTo25C(temperatureC: number): number {
	return acidPathK3PerM2PerS(temperatureC) / acidPathAt25C;
}
