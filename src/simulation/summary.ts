import tQuantile from "@stdlib/stats-base-dists-t-quantile";
import type { CalibrationPoint } from "./calibration.js";
import type { Outcome } from "./outcome.js";

/** A mean over worlds, with the interval that holds the mean of all worlds nineteen times in twenty. */
export interface Interval {
	readonly mean: number;
	readonly low: number;
	readonly high: number;
}

/** @returns the mean of values, each of one world, and its 95 % interval; a single value has itself for an interval */
export function intervalOf(values: readonly number[]): Interval {
	const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
	if (values.length < 2) return { mean, low: mean, high: mean };
	const variance = values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (values.length - 1);
	const half = tQuantile(0.975, values.length - 1) * Math.sqrt(variance / values.length);
	return { mean, low: mean - half, high: mean + half };
}

/** A figure that ways of working are compared by. */
export interface Measure {
	readonly name: string;
	readonly of: (outcome: Outcome) => number;
}

const perThousand = (outcome: Outcome, days: number) => (1000 * days) / outcome.householdDays;

/** What the ways are compared by, per 1000 household-days or as sums of the simulated time. */
export const MEASURES: readonly Measure[] = [
	{ name: "unsafe household-days (under 0.2 or over 5 mg/L), per 1000", of: (o) => perThousand(o, unsafeDays(o)) },
	{ name: "of them beyond what the dose that was meant would leave, per 1000", of: (o) => perThousand(o, unsafeByBleach(o)) },
	{ name: "over 5 mg/L, per 1000", of: (o) => perThousand(o, o.overDays) },
	{ name: "without bleach, per 1000", of: (o) => perThousand(o, o.withoutBleachDays) },
	{ name: "on bleach too weak that nobody knew of, per 1000", of: (o) => perThousand(o, o.unknownWeakDays) },
	{ name: "strength tests", of: (o) => o.tests },
	{ name: "of them within two days of making", of: (o) => o.testsAtMaking },
	{ name: "messages", of: (o) => o.messages },
	{ name: "bleach poured away, L", of: (o) => o.discardedL },
	{ name: "bleach made, L", of: (o) => o.madeL },
	{ name: "hours of volunteers", of: (o) => o.volunteerHours },
];

export const unsafeDays = (outcome: Outcome): number => outcome.underDays + outcome.overDays;
export const unsafeByBleach = (outcome: Outcome): number => Math.max(0, unsafeDays(outcome) - outcome.unsafeAtMeantDoseDays);

/** @returns one way's figure divided by another's, world by world, over the worlds that both have */
export function ratioOf(
	outcomes: readonly Outcome[],
	of: (outcome: Outcome) => number,
	way: string,
	against: string,
): Interval | undefined {
	const ratios = outcomes
		.filter((outcome) => outcome.way === way)
		.flatMap((outcome) => {
			const other = outcomes.find(({ seed, way: name }) => seed === outcome.seed && name === against);
			return other && of(other) > 0 ? [of(outcome) / of(other)] : [];
		});
	return ratios.length === 0 ? undefined : intervalOf(ratios);
}

/** Beliefs of one group held against the truth. */
export interface Calibrated {
	readonly group: string;
	readonly points: number;
	/** Share of the points in which the 90 % interval held the truth. */
	readonly heldShare: number;
	/** Share in which the truth lay below it: bleach that was weaker than believed. */
	readonly belowShare: number;
}

export function calibratedOf(group: string, points: readonly CalibrationPoint[]): Calibrated {
	const share = (is: (chance: number) => boolean) => points.filter(({ chanceBelow }) => is(chanceBelow)).length / points.length;
	return {
		...{ group, points: points.length },
		heldShare: share((chance) => chance >= 0.05 && chance <= 0.95),
		belowShare: share((chance) => chance < 0.05),
	};
}

/** @returns for central intervals of several widths: what they were said to hold and what they held */
export function reliabilityOf(points: readonly CalibrationPoint[]): { saidShare: number; heldShare: number }[] {
	return [0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95].map((saidShare) => ({
		saidShare,
		heldShare: points.filter(({ chanceBelow }) => Math.abs(chanceBelow - 0.5) <= saidShare / 2).length / points.length,
	}));
}

/** Seasons of the simulated places, by the months that they take, January is 0. */
export const SEASONS = [
	{ name: "dry and cool (November to February)", months: [10, 11, 0, 1] },
	{ name: "hot (March to May)", months: [2, 3, 4] },
	{ name: "wet (June to October)", months: [5, 6, 7, 8, 9] },
] as const;

/** @returns the table of calibration: all, by season, by what the jar is made of, and jars that stood in the sun unknown to the program */
export function calibrationTable(points: readonly CalibrationPoint[], monthOf: (day: number) => number): Calibrated[] {
	const inShade = points.filter(({ exposure }) => exposure !== "directSun");
	const groups: (readonly [string, readonly CalibrationPoint[]])[] = [
		["all jars", points],
		...SEASONS.map(({ name, months }) => {
			const those: readonly number[] = months;
			return [name, points.filter(({ day }) => those.includes(monthOf(day)))] as const;
		}),
		...(["opaque", "opaqueWhite", "translucent"] as const).map(
			(wall) => [`${WALL_NAMES[wall]} jars, where the record has them`, inShade.filter((point) => point.wall === wall)] as const,
		),
		["jars left in the sun, which no record tells", points.filter(({ exposure }) => exposure === "directSun")],
		["not tested yet", points.filter(({ tests }) => tests === 0)],
		["tested", points.filter(({ tests }) => tests > 0)],
	];
	return groups.filter(([, of]) => of.length > 0).map(([name, of]) => calibratedOf(name, of));
}

const WALL_NAMES = { opaque: "opaque", opaqueWhite: "white opaque", translucent: "translucent" } as const;
