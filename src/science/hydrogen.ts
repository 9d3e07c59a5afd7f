import { FARADAY_C_PER_MOL } from "./faraday.js";
import { kelvinOf } from "./units.js";
import { valueWithin } from "./valid-range.js";

const ELECTRONS_PER_H2 = 2;
/** Gas constant in L kPa/(mol K). Source: CODATA 2018. */
const GAS_CONSTANT_L_KPA = 8.314_462_618;

/** Share of hydrogen in air under which to stay: a quarter of the lower flammable limit of 4 % by volume. */
export const HYDROGEN_WORKING_SHARE = 0.01;

/**
 * Hydrogen that a charge sets free at the cathodes.
 *
 * @param charge `chargeAh` through the stack, 0 to 10 000 A h; `cellsInSeries` 1 to 24 (default 1); `temperatureC` 0 to 60 °C
 *   (default 25); `pressureKPa` 50 to 110 (default 101.325)
 * @returns litres of gas. All of the current counts, whatever the chlorine efficiency is: the cautious side
 * @throws RangeError outside these ranges
 * Caution: hydrogen burns and explodes from 4 % in air. Outdoors or well ventilated, no flame, spark or cigarette, never a closed
 * vessel; local electrical and fire codes come first. Source: Faraday's law, ideal gas.
 */
export function hydrogenL(charge: {
	readonly chargeAh: number;
	readonly cellsInSeries?: number;
	readonly temperatureC?: number;
	readonly pressureKPa?: number;
}): number {
	const chargeAh = valueWithin("charge in A h", charge.chargeAh, 0, 10_000);
	const cells = valueWithin("cells in series", charge.cellsInSeries ?? 1, 1, 24);
	const kelvin = kelvinOf(valueWithin("gas temperature in °C", charge.temperatureC ?? 25, 0, 60));
	const pressureKPa = valueWithin("air pressure in kPa", charge.pressureKPa ?? 101.325, 50, 110);
	const mol = (chargeAh * cells * 3600) / (ELECTRONS_PER_H2 * FARADAY_C_PER_MOL);
	return (mol * GAS_CONSTANT_L_KPA * kelvin) / pressureKPa;
}

/**
 * Air that keeps hydrogen at the working share.
 *
 * @param hydrogen litres of gas, 0 to 100 000
 * @param share hydrogen in air by volume, above 0 to 0.01 (default 0.01)
 * @returns m³ of air over the whole run
 * @throws RangeError outside these ranges; a share above 0.01 is refused because it leaves no margin
 * Source: lower flammable limit 4 % by volume and a quarter of it as working limit (from memory).
 */
export function dilutionAirM3(hydrogen: number, share: number = HYDROGEN_WORKING_SHARE): number {
	valueWithin("hydrogen in L", hydrogen, 0, 100_000);
	valueWithin("hydrogen share in air", share, 0.0001, HYDROGEN_WORKING_SHARE, "stay under a quarter of the flammable limit");
	return hydrogen / share / 1000;
}
