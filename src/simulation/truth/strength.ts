import { around, drawsFor, happens } from "../../demo/draws.js";
import type { Exposure, Wall } from "../../science/exposure.js";
import { DAY_MS } from "../../time/clock.js";
import { KEEPING, MAKING, STORAGE } from "./constants.js";
import type { Weather } from "./weather.js";

/** Bleach that stands in one place for a while. */
export interface Standing {
	/** g/L as Cl2 when it came there. */
	readonly strengthGPerL: number;
	readonly sinceMs: number;
	/** What it loses of itself a day at 30 °C in the dark, 1/day. */
	readonly lossPerDayAt30C: number;
	readonly wall: Wall;
	/** Where it really stands. */
	readonly exposure: Exposure;
}

/** @returns true strength at an instant, g/L as Cl2; before its time there, the one that it came with */
export function trueStrengthGPerL(standing: Standing, weather: Weather, atMs: number): number {
	const untilMs = Math.max(standing.sinceMs, atMs);
	const inSun = standing.exposure === "directSun";
	const heat = standing.lossPerDayAt30C * weather.daysAt30C(standing.sinceMs, untilMs, inSun);
	const light = lightPerDay(standing.wall, standing.exposure) * ((untilMs - standing.sinceMs) / DAY_MS);
	return standing.strengthGPerL * Math.exp(-heat - light);
}

export function lightPerDay(wall: Wall, exposure: Exposure): number {
	const lit = (STORAGE.lightPerDay as Readonly<Partial<Record<Wall, number>>>)[wall] ?? STORAGE.lightPerDay.clearPlastic;
	return exposure === "directSun" ? STORAGE.sunTimes * lit : lit;
}

/** What a generator makes on a day; the same for every way of working that makes it then. */
export interface Making {
	/** Strength against what was planned, before scale and missing salt. */
	readonly strengthShare: number;
	readonly lossPerDayAt30C: number;
	readonly isSaltless: boolean;
}

export function makingOf(seed: number, generatorCode: string, day: number): Making {
	const place = drawsFor(seed, "place", generatorCode);
	const own = drawsFor(seed, "making", generatorCode, day);
	const week = drawsFor(seed, "market", generatorCode, Math.floor(day / 7));
	const isSaltless = happens(week, MAKING.saltless.shareOfWeeks);
	const strength = around(place, 1, MAKING.strengthLnSd.generator) * around(own, 1, MAKING.strengthLnSd.making);
	const { place: placeLnSd, making: makingLnSd } = STORAGE.rateLnSd;
	return {
		strengthShare: isSaltless ? strength * MAKING.saltless.strengthShare : strength,
		lossPerDayAt30C: around(place, STORAGE.lossPerDayAt30C, placeLnSd) * around(own, 1, makingLnSd),
		isSaltless,
	};
}

/** @returns how much faster or slower one jar of a making loses than the others */
export const jarRateShare = (seed: number, keeperCode: string, day: number): number =>
	around(drawsFor(seed, "jar", keeperCode, day), 1, STORAGE.rateLnSd.jar);

/** @returns whether a jar that was filled on that day is left in the sun */
export const isLeftInSun = (seed: number, keeperCode: string, day: number): boolean =>
	happens(drawsFor(seed, "left in sun", keeperCode, day), KEEPING.leftInSunShare);

/** @returns whether the water of a generator is hard; the first of every programme's is, so that each simulated world has one */
export const isHard = (seed: number, generatorCode: string, isFirst: boolean): boolean =>
	isFirst || happens(drawsFor(seed, "hardness", generatorCode), MAKING.hardShare);

/** @returns the share of its output that an electrode still has, so many days after it was descaled */
export function outputShare(isHardWater: boolean, daysSinceDescaled: number): number {
	const days = isHardWater ? MAKING.tenthLostDays.hard : MAKING.tenthLostDays.soft;
	return 0.9 ** (Math.max(0, daysSinceDescaled) / days);
}
