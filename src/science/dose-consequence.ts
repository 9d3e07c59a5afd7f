import { virusCt4LogMgMinPerL } from "./ct-tables.js";
import { chlorateAddedMgPerL, doseMgPerL } from "./dose-volume.js";
import type { DosedWater } from "./dosed-water.js";
import { hoursUntilBelow, residualMgPerL } from "./residual.js";
import type { ThreePoints } from "./water-classes.js";

/** What a volume of bleach does to a water: low, median and high follow from strength, demand and decay together. */
export interface DoseConsequence {
	readonly doseMgPerL: ThreePoints;
	readonly residualAfterContactMgPerL: ThreePoints;
	readonly residualAfter24hMgPerL: ThreePoints;
	/** Residual when the promised hours of use end, mg/L. */
	readonly residualAtUseEndMgPerL: ThreePoints;
	/** Hours from dosing until the residual falls under the least at the point of use. */
	readonly hoursUntilBelowUse: ThreePoints;
	/** Residual at the end of the contact time, low estimate, times that time, mg min/L; and what 4 log of viruses need. */
	readonly ct: { readonly lowMgMinPerL: number; readonly virus4LogMgMinPerL: number };
	/** Chlorate that the dose brings, mg/L; null when the bleach's chlorate isn't known. */
	readonly chlorateMgPerL: number | null;
}

/** The side conditions that the consequence is judged at. */
export interface ConsequenceConditions {
	readonly waterTemperatureC: number;
	readonly aboveEight: boolean;
	readonly useWithinHours: number;
	readonly useMinimumMgPerL: number;
	readonly chlorateInStockMgPerL: number | undefined;
}

/**
 * Consequence of a volume of bleach in a water.
 *
 * @param volumeMl measured bleach, mL
 * @param water as `dosedWater` returns it
 * @param conditions temperature 0 to 45 °C, whether the pH is 8 or more, hours of use, least residual at the point of use
 * @returns doses, residuals, hours, CT and chlorate; the low residual pairs weak bleach with high demand and decay, the high one the
 *   reverse. Errors of the measure itself (about 5 % for a small syringe) are not in it
 * Source: residual model of `residualMgPerL`; CT against US EPA table B-2 with the pH 10 column at pH 8 and above.
 */
export function doseConsequence(volumeMl: number, water: DosedWater, conditions: ConsequenceConditions): DoseConsequence {
	const { waterVolumeL, strength } = water;
	// The strength may be believed to be next to nothing at the low end: that is a dose of 0, not an error.
	const dose = (strengthGPerL: number): number =>
		strengthGPerL < 0.1 ? 0 : doseMgPerL({ volumeMl, waterVolumeL, strengthGPerL });
	const doses = { low: dose(strength.lowGPerL), median: dose(strength.medianGPerL), high: dose(strength.highGPerL) };
	const { demandMgPerL: demand, kPerHour: k } = water;
	const cases = {
		low: { doseMgPerL: doses.low, demandMgPerL: demand.high, kPerHour: k.high },
		median: { doseMgPerL: doses.median, demandMgPerL: demand.median, kPerHour: k.median },
		high: { doseMgPerL: doses.high, demandMgPerL: demand.low, kPerHour: k.low },
	};
	const each = (value: (water: typeof cases.low) => number): ThreePoints => ({
		low: value(cases.low),
		median: value(cases.median),
		high: value(cases.high),
	});
	const after = each((one) => residualMgPerL(one, water.contactMinutes / 60));
	return {
		doseMgPerL: doses,
		residualAfterContactMgPerL: after,
		residualAfter24hMgPerL: each((one) => residualMgPerL(one, 24)),
		residualAtUseEndMgPerL: each((one) => residualMgPerL(one, conditions.useWithinHours)),
		hoursUntilBelowUse: each((one) => hoursUntilBelow(one, conditions.useMinimumMgPerL)),
		ct: {
			lowMgMinPerL: after.low * water.contactMinutes,
			virus4LogMgMinPerL: virusCt4LogMgMinPerL({
				temperatureC: Math.max(0.5, conditions.waterTemperatureC),
				pH: conditions.aboveEight ? 10 : 9,
			}),
		},
		chlorateMgPerL:
			conditions.chlorateInStockMgPerL === undefined
				? null
				: chlorateAddedMgPerL({ volumeMl, waterVolumeL, chlorateInStockMgPerL: conditions.chlorateInStockMgPerL }),
	};
}
