import type { ExposureSum } from "./belief-curve.js";
import { type ExposureCalendar, exposureBetween } from "./exposure.js";

/** A place that a solution stood in until it was carried or poured elsewhere. */
export interface EarlierPlace {
	readonly calendar: ExposureCalendar;
	/** Epoch milliseconds, not before the one before it. */
	readonly untilMs: number;
}

/** Where a solution has stood since its making. */
export interface Journey {
	/** Of the place where it stands now. */
	readonly calendar: ExposureCalendar;
	/** In the order of its stays; left out: it has always stood in one place. */
	readonly earlier?: readonly EarlierPlace[];
}

/**
 * What has happened to a solution that was carried from place to place: exposures add up, whatever the place.
 *
 * @param journey calendars of its places
 * @param fromMs its making, epoch milliseconds
 * @param untilMs not before the making; it stays in its last place from then on
 * @returns the sum over its stays; `exposureBetween` where it never moved
 * @throws RangeError as `exposureBetween`
 */
export function exposureOver({ calendar, earlier = [] }: Journey, fromMs: number, untilMs: number): ExposureSum {
	let sinceMs = fromMs;
	let equivalentDaysAt25C = 0;
	let sunLossGPerL = 0;
	const add = (place: ExposureCalendar, toMs: number) => {
		const part = exposureBetween(place, sinceMs, toMs);
		equivalentDaysAt25C += part.equivalentDaysAt25C;
		sunLossGPerL += part.sunLossGPerL;
		sinceMs = toMs;
	};
	for (const place of earlier) {
		if (place.untilMs >= untilMs) break;
		if (place.untilMs > sinceMs) add(place.calendar, place.untilMs);
	}
	const last = earlier.find((place) => place.untilMs >= untilMs)?.calendar ?? calendar;
	add(last, untilMs);
	return { equivalentDaysAt25C, sunLossGPerL };
}
