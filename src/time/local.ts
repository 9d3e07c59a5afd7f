import { Temporal } from "temporal-polyfill";

/** When a person may be written to, in the person's own zone. */
export interface ContactTimes {
	readonly timeZone: string;
	/** ISO weekdays that are worked, 1 = Monday ... 7 = Sunday; at least one. */
	readonly workingDays: readonly number[];
	/** First quiet minute, 'HH:MM' local. */
	readonly quietFrom: string;
	/** First minute that isn't quiet any more, 'HH:MM' local. */
	readonly quietUntil: string;
	/** Local dates that count as days off, 'YYYY-MM-DD'. */
	readonly holidays?: readonly string[];
}

/**
 * @returns whether the name is an IANA zone by region and place (or UTC); offsets and abbreviations aren't, for they know no
 * changes of clocks. Newer and older spellings of one zone both are.
 */
export function isTimeZone(name: string): boolean {
	if (!/^(UTC|Etc\/UTC|[A-Z][A-Za-z]+(\/[A-Z][A-Za-z_-]+){1,2})$/.test(name)) return false;
	try {
		new Intl.DateTimeFormat("en", { timeZone: name });
		return true;
	} catch {
		return false;
	}
}

/** @returns the local calendar date of an instant, 'YYYY-MM-DD' */
export function localDateOf(instantMs: number, timeZone: string): string {
	return zoned(instantMs, timeZone).toPlainDate().toString();
}

/** @returns the local date that follows another, both 'YYYY-MM-DD' */
export function dayAfter(date: string): string {
	return Temporal.PlainDate.from(date).add({ days: 1 }).toString();
}

/** @returns the last day of a date's month, both 'YYYY-MM-DD' */
export function lastOfMonth(date: string): string {
	return Temporal.PlainDate.from(date).with({ day: 31 }).toString();
}

/** @returns the local wall time of an instant, 'YYYY-MM-DD HH:MM' */
export function localTimeOf(instantMs: number, timeZone: string): string {
	const at = zoned(instantMs, timeZone);
	return `${at.toPlainDate()} ${at.toPlainTime().toString({ smallestUnit: "minute" })}`;
}

/**
 * The instant of a local date and wall time.
 * A wall time that a change of clocks leaves out moves forward by the gap; one that comes twice is the first.
 * Source: RFC 5545 (2009), section 3.3.5, which Temporal's `compatible` rule agrees with.
 */
export function instantOfLocal(date: string, wallTime: string, timeZone: string): number {
	return Temporal.PlainDateTime.from(`${date}T${wallTime}`).toZonedDateTime(timeZone, { disambiguation: "compatible" })
		.epochMilliseconds;
}

/**
 * The first instant, from the given one on, at which a person may be written to.
 * @param fromMs epoch milliseconds
 * @returns `fromMs` itself when it is already allowed; never more than 15 days later where every one of 14 days is off
 */
export function nextContactInstant(fromMs: number, times: ContactTimes): number {
	const start = zoned(fromMs, times.timeZone);
	for (let ahead = -1; ahead <= 14; ahead++) {
		const day = start.toPlainDate().add({ days: ahead });
		if (!isWorked(day, times)) continue;
		const [opens, closes] = openHours(day, times);
		if (fromMs < closes) return Math.max(fromMs, opens);
	}
	return instantOfLocal(start.toPlainDate().add({ days: 15 }).toString(), times.quietUntil, times.timeZone);
}

/** Longer than any ladder asks for. */
const MOST_DAYS = 400;

/**
 * The instant at which so much of a person's working time has passed: only her contact hours on working days count.
 * @param durationMs working time, milliseconds, 0 or more
 * @returns epoch milliseconds; where 400 days don't hold so much working time, the end of them
 */
export function afterWorkingMs(fromMs: number, durationMs: number, times: ContactTimes): number {
	const first = zoned(fromMs, times.timeZone).toPlainDate();
	let leftMs = durationMs;
	let reachedMs = fromMs;
	for (let ahead = -1; ahead <= MOST_DAYS; ahead++) {
		const day = first.add({ days: ahead });
		if (!isWorked(day, times)) continue;
		const [opens, closes] = openHours(day, times);
		const startMs = Math.max(opens, reachedMs);
		if (startMs >= closes) continue;
		if (leftMs <= closes - startMs) return startMs + leftMs;
		leftMs -= closes - startMs;
		reachedMs = closes;
	}
	return reachedMs;
}

function isWorked(day: Temporal.PlainDate, { workingDays, holidays }: ContactTimes): boolean {
	return workingDays.includes(day.dayOfWeek) && !holidays?.includes(day.toString());
}

/** The contact hours that begin on a day: from the end of quiet to its next beginning, past midnight where quiet begins after it. */
function openHours(day: Temporal.PlainDate, times: ContactTimes): [number, number] {
	const opens = instantOfLocal(day.toString(), times.quietUntil, times.timeZone);
	const closingDay = times.quietFrom > times.quietUntil ? day : day.add({ days: 1 });
	return [opens, instantOfLocal(closingDay.toString(), times.quietFrom, times.timeZone)];
}

function zoned(instantMs: number, timeZone: string): Temporal.ZonedDateTime {
	return Temporal.Instant.fromEpochMilliseconds(instantMs).toZonedDateTimeISO(timeZone);
}
