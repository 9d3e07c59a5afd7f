import { flagOf } from "../options.js";
import type { DescribedJar } from "./described-jar.js";
import type { ForecastOptions } from "./options.js";

/** What a forecast was made from, with units in the names: told back with every output. */
export interface Described {
	/** Options that weren't given, so that their defaults stand below. */
	readonly assumedOptions: readonly string[];
	readonly batch: {
		readonly madeOn: string;
		readonly ageDays: number;
		readonly strengthGPerL: number;
		readonly strengthLnSd: number;
		readonly saltGPerL: number;
		readonly pH: number | null;
		readonly pHBy: "strip" | "meter" | null;
		readonly pHMeasuredAtC: number | null;
		readonly volumeL: number;
	};
	readonly place: {
		readonly wall: string;
		readonly exposure: string;
		readonly litAreaM2: number;
		readonly dayMeanC: number;
		readonly nightMeanC: number;
		readonly cloudFraction: number;
		readonly latitudeDeg: number;
		readonly altitudeM: number;
	};
	readonly rules: {
		readonly usableLimitGPerL: number;
		readonly toleratedChance: number;
		readonly testKit: string;
		readonly shortestRetestDays: number;
		readonly longestRetestDays: number;
		readonly oldestUseDays: number;
	};
}

/** @returns the description as it was taken, gaps filled */
export function describedBy({ policy, ageDays }: DescribedJar, { values, assumed }: ForecastOptions): Described {
	const wasMeasured = values.ph !== undefined;
	const filled: readonly (readonly [boolean, string])[] = [
		[values.ageDays === undefined, "ageDays"],
		[wasMeasured && values.phBy === undefined, "phBy"],
		[wasMeasured && values.phAtC === undefined, "phAtC"],
	];
	return {
		assumedOptions: [...assumed, ...filled.filter(([isFilled]) => isFilled).map(([, name]) => name)].map(flagOf),
		batch: {
			madeOn: values.madeOn,
			ageDays,
			strengthGPerL: values.strength,
			strengthLnSd: values.strengthLnSd,
			saltGPerL: values.saltGPerL,
			pH: values.ph ?? null,
			pHBy: wasMeasured ? (values.phBy ?? "strip") : null,
			pHMeasuredAtC: wasMeasured ? (values.phAtC ?? 25) : null,
			volumeL: values.volumeL,
		},
		place: {
			wall: values.wall,
			exposure: values.exposure,
			litAreaM2: values.litAreaM2,
			dayMeanC: values.dayC,
			nightMeanC: values.nightC,
			cloudFraction: values.cloud,
			latitudeDeg: values.latitude,
			altitudeM: values.altitudeM,
		},
		rules: {
			usableLimitGPerL: policy.usableLimitGPerL,
			toleratedChance: policy.toleratedChance,
			testKit: policy.testKit,
			shortestRetestDays: policy.shortestRetestDays,
			longestRetestDays: policy.longestRetestDays,
			oldestUseDays: policy.oldestUseDays,
		},
	};
}
