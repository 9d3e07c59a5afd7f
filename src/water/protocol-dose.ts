import type { Policy } from "../programme/policy.js";
import type { Turbidity } from "../programme/rows.js";
import { chlorateInStockMgPerL } from "../science/chlorate.js";
import { type DoseAnswer, doseFor, SPENT_BELOW_G_PER_L } from "../science/dose.js";
import { PLANNED_DOSE_MG_PER_L } from "../science/dose-answer.js";
import { doseConsequence } from "../science/dose-consequence.js";
import { bleachMl } from "../science/dose-volume.js";
import { dosedWater, type StrengthBounds } from "../science/dosed-water.js";
import { nearestMeasured } from "../science/measures.js";
import { normalQuantile } from "../science/normal.js";
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
	/** Of the protocol's dose, what the household's own readings have told that its water takes; 1 where left out. */
	readonly doseTimes?: number | undefined;
}

/** Quantile of a standard normal at 5 %: where the low end of a strength lies. */
const Z_LOW = normalQuantile(0.05);

/**
 * @returns the strength that the programme doses by, g/L: the one that the chance of its rules lies below, read off a lognormal through the
 * median and the low end of what is believed
 */
export function strengthToDoseBy(
	{ lowGPerL, medianGPerL }: Pick<StrengthBounds, "lowGPerL" | "medianGPerL">,
	{ doseAtChance }: Pick<Policy, "doseAtChance">,
): number {
	if (!(lowGPerL > 0)) return medianGPerL;
	return medianGPerL * (lowGPerL / medianGPerL) ** (normalQuantile(doseAtChance) / Z_LOW);
}

/** @returns how many times its protocol's dose a household gives to water of such a class */
export const doseTimesOf = (
	{ doseTimes }: { readonly doseTimes: { readonly clear: number; readonly cloudy: number } },
	{ turbidity }: { readonly turbidity: Turbidity },
): number => (turbidity === "clear" ? doseTimes.clear : doseTimes.cloudy);

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
	policy: Pick<Policy, "measure" | "doseAtChance">,
): ProtocolDoseAnswer {
	const given = plannedDose(protocol, water);
	if (given.kind === "treatFirst") return given;
	// What a household's own readings ask for goes no further than a dose is planned; a protocol whose own text gives more stays as it is written.
	const mgPerL = Math.min(given.mgPerL * (water.doseTimes ?? 1), Math.max(given.mgPerL, PLANNED_DOSE_MG_PER_L.most));
	const planned = { ...given, mgPerL };
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
			targets: { doseMgPerL: planned.mgPerL, byStrengthGPerL: Math.max(0.1, strengthToDoseBy(bounds, policy)) },
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
