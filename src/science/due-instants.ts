import { COEFFICIENTS, type DueCurve } from "./due-curve.js";
import { daysByCoefficients } from "./due-days.js";
import { type ExposureCalendar, exposureBetween, instantOfEquivalentDays } from "./exposure.js";
import { MS_PER_DAY } from "./units.js";

/** Very many batches, a column each quantity, all of one length. */
export interface BatchColumns {
	/** `lowGPerL` of each due curve. */
	readonly lowGPerL: Float64Array;
	/** The six coefficients of each due curve, one batch after the other. */
	readonly lnRateCoefficients: Float64Array;
	/** Strength each batch must have, g/L as Cl2, above 0. */
	readonly limitGPerL: Float64Array;
	/** The moment each due curve counts from, epoch milliseconds. */
	readonly referenceAtMs: Float64Array;
	/** Index of each batch's place in the list of calendars. */
	readonly place: Uint32Array;
}

/** What surrounds a due instant: no batch is asked for sooner or later after its reference moment. */
export interface DueWindow {
	/** Shortest time between two tests, ms, at least 0. */
	readonly shortestMs: number;
	/** Longest time without a test, ms, at least the shortest. */
	readonly longestMs: number;
}

const YEAR_PARTS = 365;
const PART_MS = (365.2425 * MS_PER_DAY) / YEAR_PARTS;

/**
 * What light takes per equivalent day in a place, by the day of the year on which counting starts: the largest mean over any
 * stretch that starts there and is no longer than the horizon. Taking the largest puts due days on the early side.
 *
 * @param calendar of the place
 * @param horizonDays longest stretch looked at, 1 to 365 days
 * @returns 365 values, g/L as Cl2 per equivalent day; all 0 where no light falls
 * @throws RangeError for a horizon outside its range
 */
export function sunLossPerEquivalentDay(calendar: ExposureCalendar, horizonDays: number): Float64Array {
	if (!(horizonDays >= 1 && horizonDays <= YEAR_PARTS)) {
		throw new RangeError(`the horizon must be 1 to ${YEAR_PARTS} days, got ${horizonDays}`);
	}
	const parts = Math.ceil(horizonDays);
	const days = new Float64Array(YEAR_PARTS + parts + 1);
	const losses = new Float64Array(YEAR_PARTS + parts + 1);
	for (let part = 0; part < days.length; part++) {
		const sum = exposureBetween(calendar, 0, part * PART_MS);
		days[part] = sum.equivalentDaysAt25C;
		losses[part] = sum.sunLossGPerL;
	}
	return Float64Array.from({ length: YEAR_PARTS }, (_, start) => {
		let largest = 0;
		for (let end = start + 1; end <= start + parts; end++) {
			const mean = (losses[end]! - losses[start]!) / (days[end]! - days[start]!);
			if (mean > largest) largest = mean;
		}
		return largest;
	});
}

/** Day of the year, 0 to 364, in which an instant lies, counted as `sunLossPerEquivalentDay` counts. */
const dayOfYear = (ms: number): number => {
	const parts = ms / PART_MS;
	return Math.floor(parts - Math.floor(parts / YEAR_PARTS) * YEAR_PARTS);
};

/**
 * The instant at which each of very many batches is next due for a test: when its chance of being under its limit passes the
 * tolerance, but within the window. An instant in the past means overdue.
 *
 * Nothing is allocated per batch; a million batches take some tenths of a second and 84 MB with their inputs.
 *
 * @param columns the batches
 * @param calendars one for each place
 * @param window shortest and longest time after the reference moment
 * @returns epoch milliseconds, one for each batch
 * @throws RangeError for columns of different lengths, an unknown place, or a window that ends before it starts
 *
 * Source: `equivalentDaysUntilUnder` and `instantOfEquivalentDays`.
 */
export function dueInstantsMs(columns: BatchColumns, calendars: readonly ExposureCalendar[], window: DueWindow): Float64Array {
	const { lowGPerL, lnRateCoefficients, limitGPerL, referenceAtMs, place } = columns;
	const batches = lowGPerL.length;
	const lengths = [lnRateCoefficients.length / COEFFICIENTS, limitGPerL.length, referenceAtMs.length, place.length];
	if (lengths.some((length) => length !== batches)) {
		throw new RangeError(`all columns must hold ${batches} batches, got ${lengths.join(", ")}`);
	}
	const { shortestMs, longestMs } = checkedWindow(window);
	const horizonDays = Math.min(YEAR_PARTS, Math.max(1, longestMs / MS_PER_DAY));
	const suns = calendars.map((calendar) => sunLossPerEquivalentDay(calendar, horizonDays));
	const due = new Float64Array(batches);
	for (let batch = 0; batch < batches; batch++) {
		const reference = referenceAtMs[batch]!;
		const calendar = calendars[place[batch]!];
		if (calendar === undefined) throw new RangeError(`batch ${batch} is in place ${place[batch]}, of ${calendars.length} known`);
		const sun = suns[place[batch]!]![dayOfYear(reference)]!;
		const days = daysByCoefficients(lowGPerL[batch]!, lnRateCoefficients, batch * COEFFICIENTS, limitGPerL[batch]!, sun);
		const at = instantOfEquivalentDays(calendar, reference, days) - reference;
		due[batch] = reference + (at < shortestMs ? shortestMs : Math.min(at, longestMs));
	}
	return due;
}

/** The same for one batch. */
export function dueInstantMs(
	curve: DueCurve,
	calendar: ExposureCalendar,
	referenceAtMs: number,
	limitGPerL: number,
	window: DueWindow,
): number {
	return dueInstantsMs(
		{
			lowGPerL: Float64Array.of(curve.lowGPerL),
			lnRateCoefficients: Float64Array.from(curve.lnRateCoefficients),
			limitGPerL: Float64Array.of(limitGPerL),
			referenceAtMs: Float64Array.of(referenceAtMs),
			place: Uint32Array.of(0),
		},
		[calendar],
		window,
	)[0]!;
}

/** A window that doesn't end before it starts. */
export function checkedWindow(window: DueWindow): DueWindow {
	if (!(window.shortestMs >= 0 && window.longestMs >= window.shortestMs && window.longestMs < Number.POSITIVE_INFINITY)) {
		throw new RangeError(
			`the time between tests must be 0 ms or more and end after it starts, got ${window.shortestMs} to ${window.longestMs} ms`,
		);
	}
	return window;
}
