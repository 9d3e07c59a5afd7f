import { checkedClimate, climateOfDay, DAYS_OF_YEAR, equivalentDaysPerDay, type MonthlyClimate } from "./climate.js";
import { type ChosenConstants, defaultConstants } from "./constants.js";
import { dailyIrradiationMJPerM2 } from "./irradiance.js";
import { type Exposure, exposureFraction, stockSunLossGPerL, type Wall, wallTransmittance } from "./photolysis.js";
import { MS_PER_DAY } from "./units.js";
import { valueWithin } from "./valid-range.js";

export type { MonthlyClimate } from "./climate.js";
export type { Exposure, Wall } from "./photolysis.js";

/** Where a container stands, and what of it the light reaches. */
export interface StoragePlace {
	/** -90 to 90°, north positive. */
	readonly latitudeDeg: number;
	/** Height above the sea, -430 to 6000 m. */
	readonly altitudeM: number;
	/** Twelve months, January first. */
	readonly climate: readonly MonthlyClimate[];
	readonly wall: Wall;
	readonly exposure: Exposure;
	/** Volume of the solution, 0.001 to 10 000 L. */
	readonly solutionVolumeL: number;
	/** Projected area that is lit, 0 to 10 m². */
	readonly litAreaM2: number;
	/** What the sun adds to the mean of the day, 0 to 15 °C; if left out, `sunWarmingC` in direct sun and 0 elsewhere. */
	readonly warmingC?: number;
}

/** What a year does to a container: sums from the start of the year to the end of each of its 365 equal parts. Never changed. */
export interface ExposureCalendar {
	readonly equivalentDays: Float64Array;
	readonly sunLossGPerL: Float64Array;
}

const PARTS = DAYS_OF_YEAR;
// The mean Gregorian year, so that the table stays with the seasons; it strays from the calendar's new year by a day or two.
const PART_MS = (365.2425 * MS_PER_DAY) / PARTS;
const START_MS = 946_684_800_000; // 2000-01-01T00:00Z

/**
 * What each day of the year does to a solution in one place: heat as equivalent days at 25 °C, light as g/L lost.
 *
 * @param place where and in what it is kept
 * @param solutionStrengthGPerL strength that sets how much light is absorbed, 0.001 to 200 g/L; the loss to light is not
 * reduced as the solution weakens, which is the cautious side
 * @param constants the uncertain constants
 * @returns sums by day of the year; they hold for every year
 * @throws RangeError for a value outside the ranges named in `StoragePlace`, or if an hour of any day is above 60 °C
 *
 * Source: Adam et al. 1992 (heat, see climate.ts), FAO-56 (light, see irradiance.ts), photon budget (see photolysis.ts).
 */
export function exposureCalendar(
	place: StoragePlace,
	solutionStrengthGPerL = 5,
	constants: ChosenConstants = defaultConstants,
): ExposureCalendar {
	const climate = checkedClimate(place.climate);
	const inSun = place.exposure === "directSun";
	const warmingC = valueWithin("warming in °C", place.warmingC ?? (inSun ? constants.sunWarmingC : 0), 0, 15);
	const tau = wallTransmittance(place.wall, constants);
	const reached = exposureFraction(place.exposure, constants);
	const equivalentDays = new Float64Array(PARTS + 1);
	const sunLossGPerL = new Float64Array(PARTS + 1);
	const daysAPart = PART_MS / MS_PER_DAY;
	for (let day = 1; day <= PARTS; day++) {
		const { dayMeanC, nightMeanC, cloudFraction } = climateOfDay(climate, day);
		const light = dailyIrradiationMJPerM2(place.latitudeDeg, day, place.altitudeM, cloudFraction) * reached;
		const lost = stockSunLossGPerL(light, tau, place.litAreaM2, place.solutionVolumeL, solutionStrengthGPerL, constants);
		equivalentDays[day] = equivalentDays[day - 1]! + equivalentDaysPerDay(dayMeanC + warmingC, nightMeanC) * daysAPart;
		sunLossGPerL[day] = sunLossGPerL[day - 1]! + lost * daysAPart;
	}
	return Object.freeze({ equivalentDays, sunLossGPerL });
}

/** Sum of a yearly table from the start of 2000 to a position counted in parts of a year; negative before 2000. */
function sumUntil(table: Float64Array, position: number): number {
	const year = Math.floor(position / PARTS);
	const within = position - year * PARTS;
	const part = Math.min(PARTS - 1, Math.floor(within));
	const start = table[part]!;
	return year * table[PARTS]! + start + (table[part + 1]! - start) * (within - part);
}

/**
 * What happened to a solution between two instants.
 *
 * Each day's heat and light are spread evenly over its 24 hours: whether a fraction of a day was its warm or its cool half,
 * and where local midnight lies, is ignored.
 *
 * @param calendar of the place
 * @param fromMs start, epoch milliseconds
 * @param untilMs end, epoch milliseconds, not before the start
 * @returns equivalent days at 25 °C, and the light's loss in g/L as Cl2; both 0 for no time, and adding up over parts
 * @throws RangeError if the end is before the start, or either is not a finite number
 */
export function exposureBetween(
	calendar: ExposureCalendar,
	fromMs: number,
	untilMs: number,
): { equivalentDaysAt25C: number; sunLossGPerL: number } {
	if (!(fromMs <= untilMs && untilMs - fromMs < Number.POSITIVE_INFINITY)) {
		throw new RangeError(`exposure needs a start not after its end, both finite, got ${fromMs} ms to ${untilMs} ms`);
	}
	const from = (fromMs - START_MS) / PART_MS;
	const until = (untilMs - START_MS) / PART_MS;
	const { equivalentDays, sunLossGPerL } = calendar;
	return {
		equivalentDaysAt25C: Math.max(0, sumUntil(equivalentDays, until) - sumUntil(equivalentDays, from)),
		sunLossGPerL: Math.max(0, sumUntil(sunLossGPerL, until) - sumUntil(sunLossGPerL, from)),
	};
}

/**
 * The instant at which the equivalent days since a start reach a value: the inverse of `exposureBetween`.
 *
 * @param calendar of the place
 * @param fromMs start, epoch milliseconds
 * @param equivalentDaysAt25C days at 25 °C to wait for, at least 0; Infinity allowed
 * @returns the first whole millisecond at which they are reached, at least the start; Infinity for Infinity
 * @throws RangeError for negative or NaN days, or a start that is not finite
 */
export function instantOfEquivalentDays(calendar: ExposureCalendar, fromMs: number, equivalentDaysAt25C: number): number {
	if (!(equivalentDaysAt25C >= 0 && Number.isFinite(fromMs))) {
		throw new RangeError(`equivalent days must be 0 or more from a finite instant, got ${equivalentDaysAt25C} from ${fromMs} ms`);
	}
	if (equivalentDaysAt25C === Number.POSITIVE_INFINITY) return Number.POSITIVE_INFINITY;
	const table = calendar.equivalentDays;
	const total = sumUntil(table, (fromMs - START_MS) / PART_MS) + equivalentDaysAt25C;
	const aYear = table[PARTS]!;
	const year = Math.floor(total / aYear);
	const within = total - year * aYear;
	let low = 0;
	let high = PARTS - 1;
	while (low < high) {
		const middle = (low + high + 1) >> 1;
		if (table[middle]! <= within) low = middle;
		else high = middle - 1;
	}
	const start = table[low]!;
	const position = year * PARTS + low + (within - start) / (table[low + 1]! - start);
	return Math.max(fromMs, Math.ceil(START_MS + position * PART_MS - 1e-3));
}
