import type { PHClass } from "./contact-time.js";
import type { DoseConsequence } from "./dose-consequence.js";
import type { StrengthBounds } from "./dosed-water.js";
import type { Measure, MeasuredVolume } from "./measures.js";
import type { TurbidityClass } from "./water-classes.js";

/** Between these a dose is planned, mg/L; a protocol's own text may give more. */
export const PLANNED_DOSE_MG_PER_L = { least: 0.5, most: 10 } as const;

/** Targets and limits of a dose; what is left out takes the default. */
export interface DoseTargets {
	/** Planned dose, mg/L, 0.5 to 10. Default 1.875 for clear and 3.75 for cloudy water. */
	readonly doseMgPerL?: number;
	/** Least residual when the contact time is over, mg/L, 0.2 to 5. Default 0.5, or 1.0 at pH 8 and above. */
	readonly residualAfterContactMgPerL?: number;
	/** Most residual in water that is drunk, mg/L, 1 to 5. Default 5, the WHO guideline value. */
	readonly maximumMgPerL?: number;
	/** Least residual at the point of use, mg/L, 0.1 to 1. Default 0.2. */
	readonly useMinimumMgPerL?: number;
	/** Strength that the planned dose is measured by, g/L, within the bounds of the strength. Default the median: a weaker one leaves a margin. */
	readonly byStrengthGPerL?: number;
	/** Chlorate guideline value, mg/L, 0.1 to 1. Default 0.7, provisional (WHO). */
	readonly chlorateMgPerL?: number;
}

/** What a dose is asked for. */
export interface DoseRequest {
	/** 5 %, 50 % and 95 % points of today's strength, g/L as Cl2, 0 to 150. */
	readonly strength: StrengthBounds;
	/** Water in the container or tank, L, 0.25 to 10 000. */
	readonly waterVolumeL: number;
	readonly turbidity: TurbidityClass;
	/** 0 to 45 °C. */
	readonly waterTemperatureC: number;
	/** Left out: taken as below 8 and listed among the assumptions. */
	readonly pHClass?: PHClass;
	readonly targets?: DoseTargets;
	/** Default: a 10 mL syringe in 0.5 mL steps. */
	readonly measure?: Measure;
	/** Chlorate in the bleach, mg/L, 0 to 100 000. */
	readonly chlorateInStockMgPerL?: number;
	/** Demand of the first half hour from a jar test or the household's own readings, mg/L, 0 to 10. */
	readonly demandMgPerL?: { readonly low: number; readonly high: number };
}

/** What is good to know about a dose that is given all the same. */
export type DoseWarning =
	/** More than the scheme's dose: the weak end of the strength or the demand asked for it. */
	| "doseRaised"
	/** Less than the scheme's dose: the strong end would have passed the maximum. */
	| "doseLowered"
	/** The strong end may taste so that people turn from it. */
	| "mayTasteStrong"
	/** The weak end may not last as long as the scheme promises. */
	| "mayNotLast"
	/** Chlorate above the guideline value: fresher bleach is better, but this is no reason not to disinfect. */
	| "chlorateAboveGuideline"
	/** So many fills are easily miscounted: take a larger measure. */
	| "manyFills";

/** What was taken from defaults, not known. */
export type DoseAssumption = "demand" | "pH" | "chlorate";

/** A dose with its consequence. */
export interface Dose extends DoseConsequence {
	readonly kind: "dose";
	/** Volume for the planned dose at the median strength, mL, not rounded. */
	readonly exactVolumeMl: number;
	/** Volume to measure, mL. */
	readonly volumeMl: number;
	readonly measured: MeasuredVolume;
	readonly measure: Measure;
	readonly plannedDoseMgPerL: number;
	readonly contactMinutes: number;
	/** Hours from dosing within which the scheme promises a residual. */
	readonly useWithinHours: number;
	readonly chlorateGuidelineMgPerL: number;
	readonly warnings: readonly DoseWarning[];
	readonly assumptions: readonly DoseAssumption[];
}

/** No single dose is both effective at the weak end and within the maximum at the strong end: test the bleach, then ask again. */
export interface RetestFirst {
	readonly kind: "retestFirst";
	readonly reason: "strengthTooUncertain";
	readonly figures: StrengthBounds & {
		/** mL that the weakest believable bleach needs; null when no volume would do. */
		readonly lowestEffectiveMl: number | null;
		/** mL that the strongest believable bleach permits. */
		readonly highestPermittedMl: number;
		/** High over low strength now, null when the low end is 0; and up to which a dose exists. */
		readonly spread: number | null;
		readonly permittedSpread: number;
	};
}

/** No dose for this water, bleach or measure. */
export interface DoseRefused {
	readonly kind: "refused";
	readonly reason: /** Over 100 NTU: settle, filter or flocculate first. */
		| "tooTurbid"
		/** Under 0.5 g/L: no bleach any more. */
		| "tooWeak"
		/** The demand is known so badly that no strength helps: jar test first. */
		| "demandTooUncertain"
		/** The last reading was hardly possible by what was believed: test the bleach again first. */
		| "readingContradicts"
		/** No whole step, cap or spoon lies in the window: take a finer measure or a larger container. */
		| "measureTooCoarse";
}

/** Answer to a request for a dose. */
export type DoseAnswer = Dose | RetestFirst | DoseRefused;
