import { chlorateInStockMgPerL } from "../../science/chlorate.js";
import { doseFor, SPENT_BELOW_G_PER_L } from "../../science/dose.js";
import type { Dose, DoseAnswer, DoseRequest } from "../../science/dose-answer.js";
import { type SurfaceSolution, type SurfaceUse, surfaceSolution, surfaceUses } from "../../science/surface-uses.js";
import { flagOf } from "../options.js";
import type { DoseCardOptions, DoseCardValues } from "./options.js";

/** A row of the card for drinking water. */
export interface WaterRow {
	readonly waterVolumeL: number;
	readonly water: "clear" | "cloudy";
	/** `underLimit`: the programme uses no bleach as weak as this for drinking water. */
	readonly answer: DoseAnswer | { readonly kind: "refused"; readonly reason: "underLimit" };
}

/** A row of the card for surfaces: for a bucket of so many litres. */
export interface SurfaceRow {
	readonly use: SurfaceUse;
	/** What the use asks for, g/L. */
	readonly wantGPerL: number;
	readonly solution: SurfaceSolution;
}

/** A dose card as plain values. */
export interface DoseCard {
	/** Options that weren't given, so that their defaults stand below. */
	readonly assumedOptions: readonly string[];
	readonly strength: { readonly lowGPerL: number; readonly medianGPerL: number; readonly highGPerL: number };
	readonly madeStrengthGPerL: number;
	readonly usableLimitGPerL: number;
	/** Whether there is more than 1 chance in 20 that the bleach is under the limit. */
	readonly testFirst: boolean;
	readonly waterTemperatureC: number;
	readonly waterPHClass: "below8" | "above8";
	readonly measure: DoseCardValues["measure"];
	readonly water: readonly WaterRow[];
	/** Over 100 NTU, whatever the volume. */
	readonly veryTurbidWater: DoseAnswer;
	readonly bucketL: number;
	readonly surfaces: readonly SurfaceRow[];
}

/** The bucket that use solutions are made up in, L. */
const BUCKET_L = 10;
/** Strength of a usual batch when made, g/L. Common practice, no source. */
const USUALLY_MADE_G_PER_L = 5;
/** e^(1.645·0.12): the 90 % interval of the smallest spread between batches that is reckoned with, log-sd 0.12. Own choice. */
const UNSURE_BY = 1.22;

/** @returns doses for every volume and class of water, and use solutions for surfaces, at the strength described */
export function doseCard({ values, assumed }: DoseCardOptions): DoseCard {
	const { strength: medianGPerL, limit } = values;
	const strength = {
		lowGPerL: values.low ?? twoDigits(medianGPerL / UNSURE_BY),
		medianGPerL,
		highGPerL: values.high ?? twoDigits(medianGPerL * UNSURE_BY),
	};
	const madeStrengthGPerL = values.madeStrength ?? Math.max(USUALLY_MADE_G_PER_L, medianGPerL);
	const asked: Omit<DoseRequest, "waterVolumeL" | "turbidity"> = {
		strength,
		waterTemperatureC: values.waterC,
		measure: values.measure,
		chlorateInStockMgPerL: chlorateInStockMgPerL(madeStrengthGPerL, medianGPerL),
		...(values.phClass ? { pHClass: values.phClass === "above8" ? "aboveEight" : "belowEight" } : {}),
	};
	// What is spent is told as spent; what could still be dosed, but not by the programme's rule, is told as that.
	const isUnderLimit = medianGPerL < limit && medianGPerL >= SPENT_BELOW_G_PER_L;
	const optional = ["low", "high", "madeStrength", "phClass"] as const;
	return {
		assumedOptions: [...assumed, ...optional.filter((name) => values[name] === undefined)].map(flagOf),
		strength,
		madeStrengthGPerL,
		usableLimitGPerL: limit,
		testFirst: strength.lowGPerL < limit,
		waterTemperatureC: values.waterC,
		waterPHClass: values.phClass ?? "below8",
		measure: values.measure,
		water: values.volumes.flatMap((waterVolumeL) =>
			(["clear", "cloudy"] as const).map((water) => ({
				waterVolumeL,
				water,
				answer: isUnderLimit
					? ({ kind: "refused", reason: "underLimit" } as const)
					: doseFor({ ...asked, waterVolumeL, turbidity: water }),
			})),
		),
		veryTurbidWater: doseFor({ ...asked, waterVolumeL: values.volumes[0] ?? 1, turbidity: "veryTurbid" }),
		bucketL: BUCKET_L,
		surfaces: (Object.keys(surfaceUses) as SurfaceUse[]).map((use) => ({
			use,
			wantGPerL: surfaceUses[use].wantGPerL,
			solution: surfaceSolution({ use, strength, finalVolumeL: BUCKET_L }),
		})),
	};
}

/** @returns whether it is a dose, not a reason why there is none */
export function isDose(answer: WaterRow["answer"]): answer is Dose {
	return answer.kind === "dose";
}

const twoDigits = (value: number): number => Math.round(value * 100) / 100;
