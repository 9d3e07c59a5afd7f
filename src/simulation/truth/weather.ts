import { drawsFor } from "../../demo/draws.js";
import { climateOfDay, type MonthlyClimate } from "../../science/climate.js";
import { DAY_MS } from "../../time/clock.js";
import { STORAGE, WEATHER } from "./constants.js";

/** What the days of one year do to bleach. */
export interface Weather {
	/** @returns mean temperature of a day, °C; day 0 is the first */
	meanC(day: number): number;
	/** @returns days at 30 °C that bleach has aged by from one instant to another, in the shade or in direct sun */
	daysAt30C(fromMs: number, untilMs: number, inSun: boolean): number;
}

/** @returns how much faster bleach loses at a temperature than at 30 °C */
export const rateRatioTo30C = (temperatureC: number): number => STORAGE.rateRatioPer10C ** ((temperatureC - 30) / 10);

/**
 * The weather of a simulated year: the climate, a hot season that is hotter than it, and days around it; the same for the same seed.
 * @param startAtMs local midnight of day 0
 */
export function weatherOf(seed: number, climate: readonly MonthlyClimate[], startAtMs: number, days: number): Weather {
	const meansC = Array.from({ length: days + 1 }, (_, day) => {
		const date = new Date(startAtMs + (day + 0.5) * DAY_MS);
		const { dayMeanC, nightMeanC } = climateOfDay(climate, dayOfYear(date));
		const isHot = (WEATHER.hotMonths as readonly number[]).includes(date.getUTCMonth());
		const draws = drawsFor(seed, "weather", day);
		return (dayMeanC + nightMeanC) / 2 + (isHot ? WEATHER.hotSeasonC : 0) + WEATHER.daySdC * draws.normal();
	});
	const summed = (warmerC: number): Float64Array => {
		const sums = new Float64Array(meansC.length + 1);
		meansC.forEach((meanC, day) => {
			sums[day + 1] = (sums[day] as number) + rateRatioTo30C(meanC + warmerC);
		});
		return sums;
	};
	const [shade, sun] = [summed(0), summed(STORAGE.sunWarmingC)];
	const until = (sums: Float64Array, atMs: number): number => {
		const at = Math.min(Math.max(0, (atMs - startAtMs) / DAY_MS), meansC.length);
		const day = Math.min(Math.floor(at), meansC.length - 1);
		const before = sums[day] as number;
		return before + (at - day) * ((sums[day + 1] as number) - before);
	};
	return {
		meanC: (day) => meansC[day] as number,
		daysAt30C: (fromMs, untilMs, inSun) => {
			const sums = inSun ? sun : shade;
			return until(sums, untilMs) - until(sums, fromMs);
		},
	};
}

function dayOfYear(date: Date): number {
	return Math.min(365, Math.floor((date.getTime() - Date.UTC(date.getUTCFullYear(), 0, 1)) / DAY_MS) + 1);
}
