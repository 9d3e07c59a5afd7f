import { bleachMl, doseMgPerL } from "../../science/dose-volume.js";
import { type TurbidityClass, waterClasses } from "../../science/water-classes.js";
import type { Protocol, ProtocolDose } from "./protocol.js";

/** Water that is to be dosed by a protocol. */
export interface WaterToDose {
	/** After the pretreatment. */
	readonly turbidity: TurbidityClass;
	/** °C; left out: not cold. */
	readonly waterTemperatureC?: number;
	/** Strength of the bleach, g/L as Cl2, 0.1 to 150. */
	readonly strengthGPerL: number;
}

/** What a protocol gives a water, or that it wants it treated first. */
export type DoseByProtocol =
	| {
			readonly kind: "dose";
			readonly doseMgPerL: number;
			/** mL of bleach for each litre of water, not rounded. */
			readonly mlPerL: number;
			readonly doubled: boolean;
			readonly useWithinHours: number | null;
	  }
	| { readonly kind: "treatFirst"; readonly pretreatment: Protocol["pretreatment"] };

/**
 * Dose that a protocol's text gives a water.
 *
 * @param protocol doses in mg/L, or in mL for each litre: then the strength decides how much that is
 * @param water class after pretreatment, temperature in °C, strength in g/L
 * @returns mg/L and mL/L, not rounded; or that the water is treated first
 * @throws RangeError for a strength outside 0.1 to 150 g/L
 * What the text says, not what is right: `doseFor` decides by the measured strength and holds the guideline value.
 */
export function doseByProtocol(protocol: Protocol, water: WaterToDose): DoseByProtocol {
	const dose = protocol.doses[water.turbidity];
	if (!dose)
		return { kind: "treatFirst", pretreatment: protocol.pretreatment.filter(({ turbidity }) => turbidity === water.turbidity) };
	const { doubling } = protocol;
	const cold = doubling?.belowC != null && water.waterTemperatureC !== undefined && water.waterTemperatureC < doubling.belowC;
	const doubled = cold || (doubling?.whenNotClear === true && water.turbidity !== "clear");
	const amounts = amountsAt(dose, water.strengthGPerL, doubled ? 2 : 1);
	return { kind: "dose", ...amounts, doubled, useWithinHours: dose.useWithinHours };
}

function amountsAt({ give }: ProtocolDose, strengthGPerL: number, factor: number): { doseMgPerL: number; mlPerL: number } {
	if ("mgPerL" in give) {
		const mgPerL = give.mgPerL * factor;
		return { doseMgPerL: mgPerL, mlPerL: bleachMl({ doseMgPerL: mgPerL, waterVolumeL: 1, strengthGPerL }) };
	}
	const mlPerL = give.mlPerL * factor;
	return { doseMgPerL: doseMgPerL({ volumeMl: mlPerL, waterVolumeL: 1, strengthGPerL }), mlPerL };
}

/** One amount that a protocol gives, in the waters that get it. */
export interface DoseCase {
	/** JSON Pointer. */
	readonly at: string;
	/** "clear water", "cold clear water". */
	readonly waters: string;
	/** "1.5 mL per litre", "3.75 mg/L". */
	readonly amount: { readonly mlPerL: number } | { readonly mgPerL: number };
	/** Dose for each strength that bleach of the nominal one is found to have; the same for a dose in mg/L. */
	readonly mgPerL: { readonly weak: number; readonly nominal: number; readonly strong: number };
	/** Null for a dose in mg/L: there the measured strength decides the volume. */
	readonly strengthGPerL: { readonly weak: number; readonly nominal: number; readonly strong: number } | null;
	/** Usual demand of the first half hour, mg/L. */
	readonly demandMgPerL: { readonly low: number; readonly high: number };
}

/** Home-made bleach of 5 g/L is found at 4 to 6: a fifth to either side. */
const SPREAD = 0.2;

/** @returns every amount that the protocol may give in water of up to 100 NTU */
export function doseCases(protocol: Protocol): DoseCase[] {
	return (["clear", "cloudy"] as const).flatMap((turbidity) => {
		const always = protocol.doubling?.whenNotClear === true && turbidity === "cloudy";
		const one = (factor: number, waters: string) => caseOf(protocol.doses[turbidity], turbidity, factor, waters);
		if (always) return [one(2, "water that isn't clear")];
		const plain = one(1, `${turbidity} water`);
		return protocol.doubling?.belowC == null
			? [plain]
			: [plain, one(2, `${turbidity} water under ${protocol.doubling.belowC} °C`)];
	});
}

function caseOf(dose: ProtocolDose, turbidity: "clear" | "cloudy", factor: number, waters: string): DoseCase {
	const { give } = dose;
	const at = `/doses/${turbidity}`;
	const { low, high } = waterClasses[turbidity].demandMgPerL;
	const demandMgPerL = { low, high };
	if ("mgPerL" in give) {
		const mgPerL = give.mgPerL * factor;
		const same = { weak: mgPerL, nominal: mgPerL, strong: mgPerL };
		return { at, waters, amount: { mgPerL }, mgPerL: same, strengthGPerL: null, demandMgPerL };
	}
	const nominal = give.nominalStrengthGPerL;
	const strengthGPerL = { weak: nominal * (1 - SPREAD), nominal, strong: nominal * (1 + SPREAD) };
	const of = (strength: number): number => amountsAt(dose, strength, factor).doseMgPerL;
	return {
		at,
		waters,
		amount: { mlPerL: give.mlPerL * factor },
		mgPerL: { weak: of(strengthGPerL.weak), nominal: of(nominal), strong: of(strengthGPerL.strong) },
		strengthGPerL,
		demandMgPerL,
	};
}
