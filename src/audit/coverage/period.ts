import { InputError } from "../../errors/errors.js";
import { dayAfter, instantOfLocal, lastOfMonth, localDateOf } from "../../time/local.js";

/** From the first to the last day, both whole, as they are in an area's zone. */
export interface Period {
	/** Local dates 'YYYY-MM-DD'. */
	readonly from: string;
	readonly to: string;
	readonly timeZone: string;
	readonly fromMs: number;
	/** Not itself. What is still to come of a period isn't in it: it ends now. */
	readonly untilMs: number;
	/** It isn't over yet. */
	readonly isPartial: boolean;
}

/** @throws InputError `invalid-input` where its end comes before its beginning; `time-in-future` where it hasn't begun */
export function periodOf(days: { readonly from: string; readonly to: string }, timeZone: string, nowMs: number): Period {
	const { from, to } = days;
	if (from > to)
		throw new InputError("invalid-input", `A period from ${from} to ${to} ends before it begins.`, {
			problems: [
				{ at: "from", message: `must not be after ${to}, the last day` },
				{ at: "to", message: `must not be before ${from}, the first day` },
			],
		});
	const fromMs = instantOfLocal(from, "00:00", timeZone);
	const endMs = instantOfLocal(dayAfter(to), "00:00", timeZone);
	if (fromMs > nowMs) {
		const today = localDateOf(nowMs, timeZone);
		throw new InputError("time-in-future", `The period begins on ${from}, which is in the future: there it is ${today} today.`, {
			problems: [{ at: "from", message: `must not be after ${today}` }],
		});
	}
	return { from, to, timeZone, fromMs, untilMs: Math.min(endMs, nowMs), isPartial: endMs > nowMs };
}

/** Ten years: each month is counted by itself. */
const MOST_MONTHS = 120;

/**
 * One after the other: whoever asks ends with the month that isn't over, wherever the period does.
 * @param today no month that begins after it counts
 * @returns the calendar months of a period, the first and the last cut to it
 * @throws InputError `invalid-input` where they are more than 120
 */
export function* monthsOf({ from, to }: Pick<Period, "from" | "to">, today: string): Generator<{ from: string; to: string }> {
	if (monthNumber(to < today ? to : today) - monthNumber(from) >= MOST_MONTHS)
		throw new InputError("invalid-input", `A period by months has ${MOST_MONTHS} of them at most.`, {
			problems: [{ at: "from", message: `must not be more than ${MOST_MONTHS} months before the end of the period, or today` }],
		});
	for (let first = from; first <= to && first <= today; ) {
		const last = lastOfMonth(first);
		yield { from: first, to: last < to ? last : to };
		first = dayAfter(last);
	}
}

const monthNumber = (date: string): number => Number(date.slice(0, 4)) * 12 + Number(date.slice(5, 7));
