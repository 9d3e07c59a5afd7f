import { valueWithin } from "./valid-range.js";

/** Acidity as far as it changes the wait and the target: at pH 8 and above most chlorine is the slower hypochlorite ion. */
export type PHClass = "belowEight" | "aboveEight";

/**
 * Class of a measured pH.
 *
 * @param pH 4 to 11
 * @returns "aboveEight" from 8.0 up: the sources say under and over 8, and the longer wait protects
 * @throws RangeError outside the range
 * Source: MSF, Management of a cholera epidemic, appendix 16.
 */
export function pHClassOf(pH: number): PHClass {
	return valueWithin("pH", pH, 4, 11) < 8 ? "belowEight" : "aboveEight";
}

/** Shortest wait before treated water is drunk, min. */
export const SHORTEST_CONTACT_MINUTES = 30;
/** Water at least this warm needs no more than the shortest wait, °C. */
const WARM_ENOUGH_C = 18;

/**
 * Wait between dosing and drinking.
 *
 * @param water `waterTemperatureC` 0 to 45 °C; `pHClass` (default "belowEight")
 * @returns minutes, not rounded: 30, doubled for each 10 °C below 18 °C, doubled again at pH 8 and above
 * @throws RangeError outside the range
 * Source: 30 min at 18 °C or more, longer if colder: WHO/WEDC Technical Note 11; 60 min over pH 8: MSF cholera guideline appendix 16;
 * twofold per 10 °C: 0.933^10 = 0.50 of the US EPA regression. The joint form is this project's choice; it doesn't make water safe
 * from Cryptosporidium, which chlorine leaves alive.
 */
export function contactMinutes(water: { readonly waterTemperatureC: number; readonly pHClass?: PHClass }): number {
	const temperatureC = valueWithin("water temperature in °C", water.waterTemperatureC, 0, 45);
	const cold = Math.max(1, 2 ** ((WARM_ENOUGH_C - temperatureC) / 10));
	return SHORTEST_CONTACT_MINUTES * cold * (water.pHClass === "aboveEight" ? 2 : 1);
}

/** Residual that must be left when the wait is over, mg/L: 0.5, or 1.0 at pH 8 and above. Source: MSF cholera guideline appendix 16. */
export const residualAfterContactMgPerL = (pHClass: PHClass): number => (pHClass === "aboveEight" ? 1 : 0.5);
