import { CHLORATE_GUIDELINE_MG_PER_L } from "./chlorate.js";
import {
	type DoseAnswer,
	type DoseAssumption,
	type DoseRequest,
	type DoseWarning,
	PLANNED_DOSE_MG_PER_L,
	type RetestFirst,
} from "./dose-answer.js";
import { type DoseConsequence, doseConsequence } from "./dose-consequence.js";
import { bleachMl } from "./dose-volume.js";
import { type DoseWindow, dosedWater, doseWindow, type StrengthBounds } from "./dosed-water.js";
import { defaultMeasure, type MeasuredVolume, measuredWithin, nearestMeasured } from "./measures.js";
import { POINT_OF_USE_MG_PER_L } from "./residual.js";
import { valueWithin } from "./valid-range.js";
import { waterClasses } from "./water-classes.js";

export type { DoseAnswer, DoseRequest } from "./dose-answer.js";

/** Below this a solution is poured away, not dosed, g/L. */
export const SPENT_BELOW_G_PER_L = 0.5;
const MANY_FILLS = 5;

function retestFirst(strength: StrengthBounds, window: DoseWindow): RetestFirst {
	const finite = (value: number): number | null => (Number.isFinite(value) ? value : null);
	return {
		kind: "retestFirst",
		reason: "strengthTooUncertain",
		figures: {
			...strength,
			lowestEffectiveMl: finite(window.lowestMl),
			highestPermittedMl: window.highestMl,
			spread: finite(strength.highGPerL / strength.lowGPerL),
			permittedSpread: window.permittedSpread,
		},
	};
}

/**
 * Dose for a container of drinking water, from today's strength to the volume that a volunteer can measure.
 *
 * The planned dose at the median strength, or at a weaker one where that is asked for, is taken if it is effective at the weak end (residual after contact with the highest
 * demand) and within the maximum at the strong end; else the nearest measurable volume that is both.
 *
 * @param request fields with their units and ranges as documented on `DoseRequest` and `DoseTargets`
 * @returns a dose with its consequence; or "retestFirst" when no single dose serves both ends of the strength; or a refusal. These
 *   are values, never exceptions. The exact and the measured volume both stand in the dose, the consequence is of the measured one
 * @throws RangeError for numbers outside their documented ranges: a mistake of the caller
 * Caution: the reader adds bleach to water, stirs, covers and waits; local health rules come first. Chlorine leaves Cryptosporidium
 * alive and takes out no chemical pollution.
 * Source: Lantagne 2008, J AWWA 100(8):106 (doses, hours); WHO Guidelines for drinking-water quality (0.5, 0.2, 5, 0.7 mg/L); MSF
 * cholera guideline appendix 16 (pH 8).
 */
export function doseFor(request: DoseRequest): DoseAnswer {
	const { turbidity, strength, targets = {}, measure = defaultMeasure, waterTemperatureC } = request;
	if (turbidity === "veryTurbid") return { kind: "refused", reason: "tooTurbid" };
	const water = dosedWater({ ...request, turbidity, neededResidualMgPerL: targets.residualAfterContactMgPerL });
	if (strength.medianGPerL < SPENT_BELOW_G_PER_L) return { kind: "refused", reason: "tooWeak" };

	const maximumMgPerL = targets.maximumMgPerL ?? 5;
	const window = doseWindow(water, maximumMgPerL);
	if (window.permittedSpread < 1) return { kind: "refused", reason: "demandTooUncertain" };
	if (window.lowestMl > window.highestMl) return retestFirst(strength, window);

	const scheme = waterClasses[turbidity];
	const plannedDoseMgPerL = valueWithin(
		"planned dose in mg/L",
		targets.doseMgPerL ?? scheme.doseMgPerL,
		PLANNED_DOSE_MG_PER_L.least,
		PLANNED_DOSE_MG_PER_L.most,
	);
	const exactVolumeMl = bleachMl({
		doseMgPerL: plannedDoseMgPerL,
		waterVolumeL: water.waterVolumeL,
		strengthGPerL: valueWithin("strength to dose by in g/L", targets.byStrengthGPerL ?? strength.medianGPerL, 0.1, 150),
	});
	const measured = measuredWithin({ volumeMl: exactVolumeMl, ...window }, measure);
	if (!measured) return { kind: "refused", reason: "measureTooCoarse" };

	const useMinimumMgPerL = valueWithin(
		"least residual at use in mg/L",
		targets.useMinimumMgPerL ?? POINT_OF_USE_MG_PER_L,
		0.1,
		1,
	);
	const chlorateGuidelineMgPerL = valueWithin(
		"chlorate guideline in mg/L",
		targets.chlorateMgPerL ?? CHLORATE_GUIDELINE_MG_PER_L,
		0.1,
		1,
	);
	const consequence = doseConsequence(measured.volumeMl, water, {
		waterTemperatureC,
		aboveEight: request.pHClass === "aboveEight",
		useWithinHours: scheme.useWithinHours,
		useMinimumMgPerL,
		chlorateInStockMgPerL: request.chlorateInStockMgPerL,
	});
	return {
		kind: "dose",
		...consequence,
		exactVolumeMl,
		volumeMl: measured.volumeMl,
		measured,
		measure,
		plannedDoseMgPerL,
		contactMinutes: water.contactMinutes,
		useWithinHours: scheme.useWithinHours,
		chlorateGuidelineMgPerL,
		warnings: warningsOf(consequence, measured, nearestMeasured(exactVolumeMl, measure), {
			tasteMgPerL: scheme.tasteMgPerL,
			useMinimumMgPerL,
			chlorateGuidelineMgPerL,
		}),
		assumptions: assumptionsOf(request),
	};
}

function warningsOf(
	consequence: DoseConsequence,
	measured: MeasuredVolume,
	planned: MeasuredVolume,
	limits: { readonly tasteMgPerL: number; readonly useMinimumMgPerL: number; readonly chlorateGuidelineMgPerL: number },
): DoseWarning[] {
	const { residualAfterContactMgPerL, residualAtUseEndMgPerL, chlorateMgPerL } = consequence;
	const all: readonly (readonly [boolean, DoseWarning])[] = [
		[measured.units > planned.units, "doseRaised"],
		[measured.units < planned.units, "doseLowered"],
		[residualAfterContactMgPerL.high > limits.tasteMgPerL, "mayTasteStrong"],
		[residualAtUseEndMgPerL.low < limits.useMinimumMgPerL, "mayNotLast"],
		[chlorateMgPerL !== null && chlorateMgPerL > limits.chlorateGuidelineMgPerL, "chlorateAboveGuideline"],
		[measured.fills > MANY_FILLS, "manyFills"],
	];
	return all.filter(([holds]) => holds).map(([, warning]) => warning);
}

function assumptionsOf(request: DoseRequest): DoseAssumption[] {
	const all: readonly (readonly [boolean, DoseAssumption])[] = [
		[request.demandMgPerL === undefined, "demand"],
		[request.pHClass === undefined, "pH"],
		[request.chlorateInStockMgPerL === undefined, "chlorate"],
	];
	return all.filter(([assumed]) => assumed).map(([, assumption]) => assumption);
}
