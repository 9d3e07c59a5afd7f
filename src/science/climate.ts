import { KINETICS_MAX_C, KINETICS_MIN_C, rateRatioTo25C } from "./rate-constants.js";
import { valueWithin } from "./valid-range.js";

/** Climate of one month: means over the twelve warm and the twelve cool hours, and the mean share of sky under cloud. */
export interface MonthlyClimate {
	/** Mean over the twelve hours of day, -20 to 45 °C. */
	readonly dayMeanC: number;
	/** Mean over the twelve hours of night, -20 to 45 °C. */
	readonly nightMeanC: number;
	/** Mean share of the sky under cloud, 0 to 1; 1 - n/N of the sunshine records. */
	readonly cloudFraction: number;
}

/** Days of a year on which the tables are based. */
export const DAYS_OF_YEAR = 365;

const monthLengths = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
const midMonths = monthLengths.map((length, month) => monthLengths.slice(0, month).reduce((a, b) => a + b, 0) + length / 2);

/** A day is sampled at this many evenly spaced phases; for a smooth periodic rate the sum converges faster than any power. */
const PHASES = 48;
const sines = Float64Array.from({ length: PHASES }, (_, i) => Math.sin((2 * Math.PI * (i + 0.5)) / PHASES));

/** Refuses a climate that isn't twelve months of possible values. */
export function checkedClimate(climate: readonly MonthlyClimate[]): readonly MonthlyClimate[] {
	if (climate.length !== 12) throw new RangeError(`a climate has 12 months, January first, got ${climate.length}`);
	climate.forEach(({ dayMeanC, nightMeanC, cloudFraction }, month) => {
		valueWithin(`day mean of month ${month + 1} in °C`, dayMeanC, -20, 45);
		valueWithin(`night mean of month ${month + 1} in °C`, nightMeanC, -20, 45);
		valueWithin(`cloud fraction of month ${month + 1}`, cloudFraction, 0, 1);
	});
	return climate;
}

/**
 * The climate of one day, straight between the middles of two months.
 *
 * A straight line cuts the peak of the hottest month: its mean comes out lower by an eighth of the two steps to its neighbours
 * (0.5 °C, 3 % of the rate, where they are 2 °C cooler).
 *
 * @param climate twelve months, January first
 * @param dayOfYear 1 to 365, fractions allowed; 1 is the first of January
 * @returns means of that day in the same units
 * @throws RangeError for a day outside 1 to 366
 */
export function climateOfDay(climate: readonly MonthlyClimate[], dayOfYear: number): MonthlyClimate {
	const middle = valueWithin("day of year", dayOfYear, 1, DAYS_OF_YEAR + 1) - 0.5;
	const after = midMonths.findIndex((mid) => mid > middle);
	const next = after === -1 ? 0 : after;
	const last = (next + 11) % 12;
	const span = (midMonths[next]! - midMonths[last]! + DAYS_OF_YEAR) % DAYS_OF_YEAR;
	const share = ((middle - midMonths[last]! + DAYS_OF_YEAR) % DAYS_OF_YEAR) / span;
	const between = (of: (month: MonthlyClimate) => number) => of(climate[last]!) * (1 - share) + of(climate[next]!) * share;
	return {
		dayMeanC: between((m) => m.dayMeanC),
		nightMeanC: between((m) => m.nightMeanC),
		cloudFraction: between((m) => m.cloudFraction),
	};
}

/**
 * Mean of the rate ratio over a day whose temperature is a sine: the rate is averaged, never the temperature, because loss is
 * convex in temperature and a mean temperature promises too much.
 *
 * @param meanC middle of the sine, °C
 * @param amplitudeC half of the daily range, at least 0 °C
 * @returns mean of r(t) over the day: equivalent days at 25 °C a day; hours below 5 °C count as 5 °C (faster than the truth)
 * @throws RangeError if the hottest hour is above 60 °C
 *
 * Source: r(t) from Adam et al. 1992, see `rateRatioTo25C`; midpoint rule over 48 phases.
 */
export function dailyMeanRateRatio(meanC: number, amplitudeC: number): number {
	let sum = 0;
	for (const sine of sines) sum += rateRatioTo25C(Math.max(KINETICS_MIN_C, meanC + amplitudeC * sine));
	return sum / PHASES;
}

/**
 * Equivalent days at 25 °C that a day counts for, from its day and night means.
 *
 * The day is a sine whose half-day means are the two given: amplitude = π/4·(day - night).
 *
 * @param dayMeanC mean over the twelve warm hours, °C, with any warming by the sun already added
 * @param nightMeanC mean over the twelve cool hours, °C
 * @returns equivalent days a day, above 0
 * @throws RangeError if the hottest hour is above 60 °C
 */
export function equivalentDaysPerDay(dayMeanC: number, nightMeanC: number): number {
	const meanC = (dayMeanC + nightMeanC) / 2;
	const amplitudeC = (Math.PI / 4) * Math.abs(dayMeanC - nightMeanC);
	valueWithin("hottest hour of the day in °C", Math.max(KINETICS_MIN_C, meanC + amplitudeC), KINETICS_MIN_C, KINETICS_MAX_C);
	return dailyMeanRateRatio(meanC, amplitudeC);
}
