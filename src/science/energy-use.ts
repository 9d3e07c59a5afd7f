import { CHLORINE_G_PER_AMPERE_HOUR } from "./faraday.js";
import { valueWithin } from "./valid-range.js";

const volts = (name: string, value: number): number => valueWithin(`${name} in V`, value, 1, 60);

/**
 * Energy that a kilogram of chlorine takes.
 *
 * @param cell `voltageV` per cell, 1 to 60 V (a 12 V supply dropped on one cell counts as 12 V); `currentEfficiency` 0.01 to 1
 * @returns kWh/kg as Cl2. Handbooks give 4 to 6 for cells without a membrane (from memory)
 * @throws RangeError outside these ranges
 * Source: kWh/kg = V / (efficiency · 1.3228), from Faraday's law.
 */
export function energyKWhPerKg(cell: { readonly voltageV: number; readonly currentEfficiency: number }): number {
	valueWithin("current efficiency (share of 1)", cell.currentEfficiency, 0.01, 1);
	return volts("cell voltage", cell.voltageV) / (cell.currentEfficiency * CHLORINE_G_PER_AMPERE_HOUR);
}

/**
 * Energy that a charge draws from the supply.
 *
 * @param draw `chargeAh` at the terminals, 0 to 10 000 A h; `supplyVoltageV` 1 to 60 V
 * @returns W h
 * @throws RangeError outside these ranges
 */
export function energyWh(draw: { readonly chargeAh: number; readonly supplyVoltageV: number }): number {
	return valueWithin("charge in A h", draw.chargeAh, 0, 10_000) * volts("supply voltage", draw.supplyVoltageV);
}
