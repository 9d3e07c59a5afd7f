import { doseFor } from "../../science/dose.js";
import type { Dose, DoseAnswer } from "../../science/dose-answer.js";
import { type SurfaceSolution, type SurfaceUse, surfaceSolution, surfaceUses } from "../../science/surface-uses.js";
import type { DoseCardOptions, DoseCardValues } from "./options.js";

/** A row of the card for drinking water. */
export interface WaterRow {
	readonly waterVolumeL: number;
	readonly water: "clear" | "cloudy";
	readonly answer: DoseAnswer;
}

/** A row of the card for surfaces: for a bucket of so many litres. */
export interface SurfaceRow {
	readonly use: SurfaceUse;
	readonly solution: SurfaceSolution;
}

export interface DoseCard {
	readonly assumed: readonly string[];
	readonly asked: DoseCardValues;
	readonly water: readonly WaterRow[];
	readonly surfaces: readonly SurfaceRow[];
}

/** The bucket that use solutions are made up in, L. */
export const BUCKET_L = 10;

/** @returns doses for every volume and class of water, and use solutions for surfaces, at the strength described */
export function doseCard({ values, assumed }: DoseCardOptions): DoseCard {
	const strength = {
		lowGPerL: values.low ?? values.strength,
		medianGPerL: values.strength,
		highGPerL: values.high ?? values.strength,
	};
	const water = values.volumes.flatMap((waterVolumeL) =>
		(["clear", "cloudy"] as const).map((turbidity) => ({
			waterVolumeL,
			water: turbidity,
			answer: doseFor({
				strength,
				waterVolumeL,
				turbidity,
				waterTemperatureC: values.waterC,
				measure: values.measure,
				...(values.phClass ? { pHClass: values.phClass === "above8" ? ("aboveEight" as const) : ("belowEight" as const) } : {}),
			}),
		})),
	);
	const surfaces = (Object.keys(surfaceUses) as SurfaceUse[]).map((use) => ({
		use,
		solution: surfaceSolution({ use, strength, finalVolumeL: BUCKET_L }),
	}));
	return { assumed: [...assumed], asked: values, water, surfaces };
}

export function isDose(answer: DoseAnswer): answer is Dose {
	return answer.kind === "dose";
}
