import type { Policy } from "../programme/policy.js";
import type { Turbidity } from "../programme/rows.js";
import { chlorateInStockMgPerL } from "../science/chlorate.js";
import { type DoseAnswer, doseFor, SPENT_BELOW_G_PER_L } from "../science/dose.js";
import { doseConsequence } from "../science/dose-consequence.js";
import { bleachMl } from "../science/dose-volume.js";
import { dosedWater } from "../science/dosed-water.js";
import { nearestMeasured } from "../science/measures.js";
import type { TurbidityClass } from "../science/water-classes.js";
import type { JarStrength } from "./jar-strength.js";
import type { Protocol } from "./protocol/protocol.js";
import { contactMinutesIn } from "./protocol/waits.js";

export const TURBIDITY_CLASS: Readonly<Record<Turbidity, TurbidityClass>> = {
	clear: "clear",
	cloudy: "cloudy",
	"very turbid": "veryTurbid",
};

/** What a protocol plans for a water, before the strength of the bleach comes into it. */
export type PlannedDose =
	| { readonly kind: "dose"; readonly mgPerL: number; readonly doubled: boolean; readonly useWithinHours: number | null }
	| { readonly kind: "treatFirst"; readonly texts: readonly string[] };

/**
 * Dose that a protocol plans, mg/L as Cl2: mL of bleach of a nominal strength stand for what they bring at that strength, so that weaker
 * bleach gets more of it.
 * @param water class after any pretreatment; temperature in °C as far as it is known
 * @returns the dose, doubled where the protocol says so; or what is done with the water first
 */
export function plannedDose(protocol: Protocol, water: { turbidity: Turbidity; temperatureC?: number }): PlannedDose {
	const turbidity = TURBIDITY_CLASS[water.turbidity];
	const dose = protocol.doses[turbidity];
	const before = protocol.pretreatment.filter((one) => one.turbidity === turbidity).map(({ text }) => text);
	if (!dose) return { kind: "treatFirst", texts: before };
	const { give, useWithinHours } = dose;
	const once = "mgPerL" in give ? give.mgPerL : give.mlPerL * give.nominalStrengthGPerL;
	const { doubling } = protocol;
	const cold = doubling?.belowC != null && water.temperatureC !== undefined && water.temperatureC < doubling.belowC;
	const doubled = cold || (doubling?.whenNotClear === true && turbidity !== "clear");
	return { kind: "dose", mgPerL: once * (doubled ? 2 : 1), doubled, useWithinHours };
}

/** A dose that is only drunk once a reading has found it fit: no volume is held to the guideline value before it. */
export interface CheckedDose {
	readonly kind: "doseThenCheck";
	readonly exactVolumeMl: number;
	readonly volumeMl: number;
	readonly plannedDoseMgPerL: number;
	readonly doubled: boolean;
	readonly contactMinutes: number;
	readonly useWithinHours: number | null;
	/** With the weakest, the likely and the strongest bleach. */
	readonly doseMgPerL: { readonly low: number; readonly median: number; readonly high: number };
	readonly residualAfterContactMgPerL: { readonly low: number; readonly median: number; readonly high: number };
}

export type ProtocolDoseAnswer = DoseAnswer | CheckedDose | Extract<PlannedDose, { kind: "treatFirst" }>;

export interface WaterToDose {
	readonly volumeL: number;
	readonly turbidity: Turbidity;
	/** 0 to 45 °C. */
	readonly temperatureC: number;
	/** Demand of the first half hour that the household's own readings have taught, mg/L. */
	readonly demandMgPerL?: { readonly low: number; readonly high: number } | undefined;
}

/**
 * Today's dose of one container by its household's protocol.
 * @param jar what is believed of it now, g/L, and how it was made, for the chlorate that has formed since
 * @returns for a protocol that lets people drink after the wait, a dose held to the guideline value at both ends of the strength; for one
 *   that asks for a reading first, what its text gives; what is done first where it gives none
 */
export function doseByHouseholdProtocol(
	protocol: Protocol,
	water: WaterToDose,
	{ strength, madeStrengthGPerL, contradicted }: Pick<JarStrength, "strength" | "madeStrengthGPerL" | "contradicted">,
	policy: Pick<Policy, "measure">,
): ProtocolDoseAnswer {
	const planned = plannedDose(protocol, water);
	if (planned.kind === "treatFirst") return planned;
	if (contradicted) return { kind: "refused", reason: "readingContradicts" };
	const { lowGPerL, medianGPerL, highGPerL } = strength;
	const bounds = { lowGPerL, medianGPerL, highGPerL };
	const turbidity = TURBIDITY_CLASS[water.turbidity] as "clear" | "cloudy";
	const chlorate = chlorateInStockMgPerL(madeStrengthGPerL, Math.max(0.001, medianGPerL));
	if (protocol.drinkFrom === "contactTime")
		return doseFor({
			strength: bounds,
			waterVolumeL: water.volumeL,
			turbidity,
			waterTemperatureC: water.temperatureC,
			targets: { doseMgPerL: planned.mgPerL },
			measure: policy.measure,
			chlorateInStockMgPerL: chlorate,
			...(water.demandMgPerL ? { demandMgPerL: water.demandMgPerL } : {}),
		});
	if (medianGPerL < SPENT_BELOW_G_PER_L) return { kind: "refused", reason: "tooWeak" };
	const waterVolumeL = water.volumeL;
	const exactVolumeMl = bleachMl({ doseMgPerL: planned.mgPerL, waterVolumeL, strengthGPerL: medianGPerL });
	const { volumeMl } = nearestMeasured(exactVolumeMl, policy.measure);
	const contactMinutes = contactMinutesIn(protocol.contact, { waterTemperatureC: water.temperatureC });
	const facts = { strength: bounds, waterVolumeL, turbidity, waterTemperatureC: water.temperatureC };
	const { doseMgPerL, residualAfterContactMgPerL } = doseConsequence(
		volumeMl,
		{ ...dosedWater({ ...facts, ...(water.demandMgPerL ? { demandMgPerL: water.demandMgPerL } : {}) }), contactMinutes },
		{
			waterTemperatureC: water.temperatureC,
			aboveEight: false,
			useWithinHours: planned.useWithinHours ?? 24,
			useMinimumMgPerL: 0.2,
			chlorateInStockMgPerL: chlorate,
		},
	);
	const { mgPerL: plannedDoseMgPerL, doubled, useWithinHours } = planned;
	return {
		kind: "doseThenCheck",
		exactVolumeMl,
		volumeMl,
		plannedDoseMgPerL,
		doubled,
		contactMinutes,
		useWithinHours,
		doseMgPerL,
		residualAfterContactMgPerL,
	};
}
