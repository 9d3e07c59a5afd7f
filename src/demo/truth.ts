import type { AreaRow } from "../programme/rows.js";
import { type ExposureCalendar, exposureBetween, exposureCalendar } from "../science/exposure.js";
import { rounded } from "../science/rounded.js";
import { solutionFromRun } from "../science/solution.js";
import { strengthAfterGPerL } from "../science/strength-curve.js";
import type { BatchRow } from "../stock/rows.js";
import { around, drawsFor } from "./draws.js";

/** What nobody in the demo knows: how strong a jar really was, and how fast it really loses. */
export interface JarTruth {
	readonly initialStrengthGPerL: number;
	/** Its rate of loss against the one that is expected of it. */
	readonly lossMultiplier: number;
}

/** What of a jar decides its strength. */
export type Jar = Pick<
	BatchRow,
	| "id"
	| "generatorId"
	| "areaId"
	| "madeAtMs"
	| "volumeL"
	| "madeStrengthGPerL"
	| "saltGPerL"
	| "ph"
	| "wall"
	| "exposure"
	| "litAreaM2"
>;

export type JarPlace = Pick<AreaRow, "latitudeDeg" | "altitudeM" | "climate">;

/**
 * The hidden truth of a jar; the same for the same start number and jar, whether it was made before the demo or during it.
 * Jars of one run share what the run brought: its strength, and most of what makes it lose fast or slowly.
 *
 * @returns strength within about 30 % of what the record of the run lets expect (ln-sd 0.13), and a multiplier around 1
 * (ln-sd 0.57 in all, within the 0.5 to 0.8 of a site whose batches are alike)
 */
export function jarTruth(start: number, jar: Pick<Jar, "id" | "generatorId" | "madeAtMs" | "madeStrengthGPerL">): JarTruth {
	const run = drawsFor(start, "run", jar.generatorId ?? jar.id, jar.madeAtMs);
	const own = drawsFor(start, "jar", jar.id);
	return {
		initialStrengthGPerL: rounded(around(run, jar.madeStrengthGPerL, 0.13), 3),
		lossMultiplier: rounded(around(run, 1, 0.45) * around(own, 1, 0.35), 4),
	};
}

/** @returns what the records let expect of a jar: strength as made, loss as the model has it */
export function expectedOf(jar: Pick<Jar, "madeStrengthGPerL">): JarTruth {
	return { initialStrengthGPerL: jar.madeStrengthGPerL, lossMultiplier: 1 };
}

export type StrengthAt = (jar: Jar, place: JarPlace, truth: JarTruth, atMs: number) => number;

/**
 * @returns strength of a jar at an instant in g/L as Cl2, as the product's own curve has it; before its making, the one at its
 * making. The yearly tables behind it are kept from call to call.
 */
export function strengthCurve(): StrengthAt {
	const calendars = new Map<string, ExposureCalendar>();
	return (jar, place, truth, atMs) => {
		const { wall, exposure, volumeL, litAreaM2, areaId } = jar;
		const key = [areaId, place.altitudeM, wall, exposure, volumeL, litAreaM2].join("|");
		const calendar = calendars.get(key) ?? exposureCalendar({ ...place, wall, exposure, litAreaM2, solutionVolumeL: volumeL });
		calendars.set(key, calendar);
		const solution = solutionFromRun({ strengthGPerL: jar.madeStrengthGPerL, pH: jar.ph ?? undefined, saltGPerL: jar.saltGPerL });
		const { equivalentDaysAt25C, sunLossGPerL } = exposureBetween(calendar, jar.madeAtMs, Math.max(jar.madeAtMs, atMs));
		return strengthAfterGPerL(truth.initialStrengthGPerL, truth.lossMultiplier, solution, equivalentDaysAt25C, sunLossGPerL);
	};
}
