import { contactMinutes, type PHClass, residualAfterContactMgPerL } from "./contact-time.js";
import { DEMAND_HOURS, decayTemperatureFactor } from "./residual.js";
import { valueWithin } from "./valid-range.js";
import { type ThreePoints, waterClasses } from "./water-classes.js";

/** Today's strength of the bleach: 5 %, 50 % and 95 % points of what is believed of it. */
export interface StrengthBounds {
	readonly lowGPerL: number;
	readonly medianGPerL: number;
	readonly highGPerL: number;
}

/** Water about to be dosed, with all that is known or assumed of it. */
export interface DosedWater {
	readonly strength: StrengthBounds;
	readonly waterVolumeL: number;
	/** Rounded up to a whole minute. */
	readonly contactMinutes: number;
	/** Least residual when the contact time is over, mg/L. */
	readonly neededResidualMgPerL: number;
	readonly demandMgPerL: ThreePoints;
	/** Decay constant at the water's temperature, 1/h. */
	readonly kPerHour: ThreePoints;
}

/** What tells how water will take its chlorine. */
export interface WaterFacts {
	readonly strength: StrengthBounds;
	readonly waterVolumeL: number;
	readonly turbidity: "clear" | "cloudy";
	readonly waterTemperatureC: number;
	readonly pHClass?: PHClass;
	readonly demandMgPerL?: { readonly low: number; readonly high: number };
	readonly neededResidualMgPerL?: number;
}

function knownDemand(known: { readonly low: number; readonly high: number }): ThreePoints {
	const low = valueWithin("low demand in mg/L", known.low, 0, 10);
	const high = valueWithin("high demand in mg/L", known.high, low, 10, "the high demand is at least the low one");
	return { low, median: (low + high) / 2, high };
}

/**
 * Water about to be dosed, its gaps filled with the defaults of its class.
 *
 * @param facts strength 0 to 150 g/L in rising order, volume 0.25 to 10 000 L, temperature 0 to 45 °C, demand 0 to 10 mg/L
 * @returns the water; decay constants are taken to its temperature, the contact time to a whole minute
 * @throws RangeError outside these ranges
 */
export function dosedWater(facts: WaterFacts): DosedWater {
	const { lowGPerL, medianGPerL, highGPerL } = facts.strength;
	valueWithin("low strength in g/L", lowGPerL, 0, 150);
	valueWithin("median strength in g/L", medianGPerL, lowGPerL, 150, "strengths rise from low to median to high");
	valueWithin("high strength in g/L", highGPerL, medianGPerL, 150, "strengths rise from low to median to high");
	const { demandMgPerL, kPerHour } = waterClasses[facts.turbidity];
	const pHClass = facts.pHClass ?? "belowEight";
	const factor = decayTemperatureFactor(facts.waterTemperatureC);
	return {
		strength: facts.strength,
		waterVolumeL: valueWithin("water in L", facts.waterVolumeL, 0.25, 10_000),
		contactMinutes: Math.ceil(contactMinutes({ waterTemperatureC: facts.waterTemperatureC, pHClass }) - 1e-9),
		neededResidualMgPerL: valueWithin(
			"needed residual in mg/L",
			facts.neededResidualMgPerL ?? residualAfterContactMgPerL(pHClass),
			0.2,
			5,
		),
		demandMgPerL: facts.demandMgPerL ? knownDemand(facts.demandMgPerL) : demandMgPerL,
		kPerHour: { low: kPerHour.low * factor, median: kPerHour.median * factor, high: kPerHour.high * factor },
	};
}

/** Volumes of bleach between which a dose does its work without harm. */
export interface DoseWindow {
	/** Least that leaves the needed residual with the weakest bleach and the highest demand and decay, mL; Infinity if none does. */
	readonly lowestMl: number;
	/** Most that keeps the residual at the maximum with the strongest bleach and the lowest demand, mL. */
	readonly highestMl: number;
	/** High over low strength up to which some dose works for this water; below 1 none does, however well the bleach is known. */
	readonly permittedSpread: number;
}

/**
 * Window of volumes for a water.
 *
 * @param water as `dosedWater` returns it
 * @param maximumMgPerL most residual in water that is drunk, 1 to 5 mg/L
 * @returns the window, empty when `lowestMl` exceeds `highestMl`
 * @throws RangeError outside the range
 * Both ends take the worst of strength, demand and decay at once, which happens less often than 1 time in 20: the cautious side.
 */
export function doseWindow(water: DosedWater, maximumMgPerL: number): DoseWindow {
	valueWithin("maximum residual in mg/L", maximumMgPerL, 1, 5, "5 mg/L is the WHO guideline value");
	const decayHours = water.contactMinutes / 60 - DEMAND_HOURS;
	const neededDose = water.neededResidualMgPerL * Math.exp(water.kPerHour.high * decayHours) + water.demandMgPerL.high;
	const permittedDose = maximumMgPerL + water.demandMgPerL.low;
	return {
		lowestMl: (neededDose * water.waterVolumeL) / water.strength.lowGPerL,
		highestMl: (permittedDose * water.waterVolumeL) / water.strength.highGPerL,
		permittedSpread: permittedDose / neededDose,
	};
}
