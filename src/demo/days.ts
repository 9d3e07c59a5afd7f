import { DAY_MS, MINUTE_MS } from "../time/clock.js";
import { instantOfLocal, localDateOf } from "../time/local.js";
import { DEMO_TIME_ZONE } from "./places.js";

/** The days before the start, counted back from it: day 1 is the day before. */
export interface DaysBefore {
	/** @returns the local date, 'YYYY-MM-DD' */
	date(days: number): string;
	/** @returns the instant of so many minutes after local midnight; before the start for day 1 and earlier ones */
	instant(days: number, minuteOfDay: number): number;
}

/** How far back the records go. */
export const HISTORY_DAYS = 35;

/** @param startAtMs epoch milliseconds; the zone of the demo has no change of clocks, so a day is always 24 hours */
export function daysBefore(startAtMs: number): DaysBefore {
	const midnights = new Map<number, number>();
	const date = (days: number) => localDateOf(startAtMs - days * DAY_MS, DEMO_TIME_ZONE);
	const midnight = (days: number): number => {
		const known = midnights.get(days) ?? instantOfLocal(date(days), "00:00", DEMO_TIME_ZONE);
		midnights.set(days, known);
		return known;
	};
	return { date, instant: (days, minuteOfDay) => midnight(days) + Math.round(minuteOfDay) * MINUTE_MS };
}
