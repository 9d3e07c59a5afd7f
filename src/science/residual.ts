import { kelvinOf } from "./units.js";
import { valueWithin } from "./valid-range.js";

/** The demand is met within this time after dosing, h: what falls later is decay. */
export const DEMAND_HOURS = 0.5;
/** Least residual at the point of use, mg/L. Source: WHO Guidelines for drinking-water quality. */
export const POINT_OF_USE_MG_PER_L = 0.2;

const dose = (mgPerL: number): number => valueWithin("dose in mg/L", mgPerL, 0, 100);
const demand = (mgPerL: number): number => valueWithin("demand in mg/L", mgPerL, 0, 100);
const decay = (kPerHour: number): number => valueWithin("decay constant in 1/h", kPerHour, 0, 100);

/** Water as its chlorine goes: demand of the first half hour, then first-order decay. */
export interface ChlorinatedWater {
	/** mg/L as Cl2, 0 to 100. */
	readonly doseMgPerL: number;
	/** Demand of the first half hour, mg/L, 0 to 100. */
	readonly demandMgPerL: number;
	/** First-order decay constant at the water's temperature, 1/h, 0 to 100. */
	readonly kPerHour: number;
}

/**
 * Free residual at a time after dosing.
 *
 * @param water dose, demand and decay
 * @param hours since dosing, 0.5 to 720 h: the first half hour isn't described
 * @returns mg/L, 0 when the demand takes all of the dose
 * @throws RangeError outside these ranges
 * Source: C(t) = max(0, D - d30)·exp(-kb·(t - 0.5 h)).
 */
export function residualMgPerL(water: ChlorinatedWater, hours: number): number {
	valueWithin("time since dosing in h", hours, DEMAND_HOURS, 720);
	const left = Math.max(0, dose(water.doseMgPerL) - demand(water.demandMgPerL));
	return left * Math.exp(-decay(water.kPerHour) * (hours - DEMAND_HOURS));
}

/**
 * Hours from dosing until the residual falls under a limit.
 *
 * @param water dose, demand and decay
 * @param limitMgPerL 0.01 to 10 mg/L (default 0.2, the least at the point of use)
 * @returns h since dosing; 0 when the demand leaves less than the limit; Infinity without decay
 * @throws RangeError outside these ranges
 * Source: the same model, solved for t.
 */
export function hoursUntilBelow(water: ChlorinatedWater, limitMgPerL: number = POINT_OF_USE_MG_PER_L): number {
	valueWithin("limit in mg/L", limitMgPerL, 0.01, 10);
	const left = dose(water.doseMgPerL) - demand(water.demandMgPerL);
	const kPerHour = decay(water.kPerHour);
	if (left < limitMgPerL) return 0;
	return kPerHour === 0 ? Number.POSITIVE_INFINITY : DEMAND_HOURS + Math.log(left / limitMgPerL) / kPerHour;
}

/** Activation temperature Ea/R of the residual's decay, K: 6000 to 9000 (from memory). */
export const DECAY_ACTIVATION_K = 7500;
/** Temperature that the default decay constants stand for, °C. */
export const DECAY_REFERENCE_C = 25;

/**
 * Factor from a decay constant at 25 °C to one at the water's temperature.
 *
 * @param temperatureC 0 to 45 °C
 * @param activationK Ea/R, 6000 to 9000 K (default 7500)
 * @returns factor, 1 at 25 °C
 * @throws RangeError outside these ranges
 * Source: Arrhenius; range from memory. The true factor varies with the water: a household's own readings say more.
 */
export function decayTemperatureFactor(temperatureC: number, activationK: number = DECAY_ACTIVATION_K): number {
	valueWithin("water temperature in °C", temperatureC, 0, 45);
	valueWithin("activation temperature in K", activationK, 6000, 9000);
	return Math.exp(activationK * (1 / kelvinOf(DECAY_REFERENCE_C) - 1 / kelvinOf(temperatureC)));
}

/**
 * Residual under second-order decay.
 *
 * @param water `initialMgPerL` 0 to 100 mg/L; `kLPerMgMin` 0 to 10 L/(mg min), about 0.005 in camps; `minutes` 0 to 43 200 min
 * @returns mg/L
 * @throws RangeError outside these ranges
 * Source: C = C0/(1 + k C0 t); Ali et al. 2015, Bull. World Health Organ. 93:550.
 */
export function secondOrderResidualMgPerL(water: {
	readonly initialMgPerL: number;
	readonly kLPerMgMin: number;
	readonly minutes: number;
}): number {
	const start = valueWithin("concentration in mg/L", water.initialMgPerL, 0, 100);
	const k = valueWithin("decay constant in L/(mg min)", water.kLPerMgMin, 0, 10);
	return start / (1 + k * start * valueWithin("time in min", water.minutes, 0, 43_200));
}

/**
 * Minutes until a second-order residual falls under a limit.
 *
 * @param water `initialMgPerL` 0 to 100 mg/L; `kLPerMgMin` 0 to 10 L/(mg min)
 * @param limitMgPerL 0.01 to 10 mg/L (default 0.2)
 * @returns min; 0 when it starts lower; Infinity without decay
 * @throws RangeError outside these ranges
 */
export function secondOrderMinutesUntilBelow(
	water: { readonly initialMgPerL: number; readonly kLPerMgMin: number },
	limitMgPerL: number = POINT_OF_USE_MG_PER_L,
): number {
	const start = valueWithin("concentration in mg/L", water.initialMgPerL, 0, 100);
	const k = valueWithin("decay constant in L/(mg min)", water.kLPerMgMin, 0, 10);
	valueWithin("limit in mg/L", limitMgPerL, 0.01, 10);
	if (start < limitMgPerL) return 0;
	return k === 0 ? Number.POSITIVE_INFINITY : (1 / limitMgPerL - 1 / start) / k;
}
