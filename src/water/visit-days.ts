import { DAY_MS } from "../time/clock.js";
import { instantOfLocal, localDateOf } from "../time/local.js";

/** How one household's turn comes round among those that one volunteer visits. */
export interface VisitRhythm {
	/** Days within which every household is seen, 1 to 90. */
	readonly intervalDays: number;
	/** ISO weekdays that the volunteer works; none: every day, and so within less than a week. */
	readonly workingDays: readonly number[];
	readonly timeZone: string;
	/** 'HH:MM' at which the visit falls due. */
	readonly from: string;
	/** Place of the household among the volunteer's, 0 for the first, and how many she has. */
	readonly place: number;
	readonly of: number;
}

/** 5 January 1970, a Monday, in days of the epoch. */
const FIRST_MONDAY = 4;

/**
 * The household's next turn.
 *
 * The volunteer's working days of a round are shared out among her households in their order, so that no day has more than one visit above
 * another, whenever the households came into the program. A round is as many whole weeks as the interval holds, or the interval itself
 * where that is less than a week.
 * @returns the first turn after an instant; turns lie one round apart
 */
export function visitAfterMs(rhythm: VisitRhythm, afterMs: number): number {
	const round = rhythm.intervalDays >= 7 ? Math.floor(rhythm.intervalDays / 7) * 7 : Math.max(1, Math.floor(rhythm.intervalDays));
	const today = Date.parse(`${localDateOf(afterMs, rhythm.timeZone)}T00:00:00Z`) / DAY_MS;
	for (let number = Math.floor((today - FIRST_MONDAY) / round); ; number++) {
		const day = turnIn(rhythm, FIRST_MONDAY + number * round, round);
		if (day < today) continue;
		const date = new Date(day * DAY_MS).toISOString().slice(0, 10);
		const turnMs = instantOfLocal(date, rhythm.from, rhythm.timeZone);
		if (turnMs > afterMs) return turnMs;
	}
}

/** @returns the household's day in a round, in days of the epoch */
function turnIn({ workingDays, place, of }: VisitRhythm, firstDay: number, days: number): number {
	const all = Array.from({ length: days }, (_, i) => firstDay + i);
	const worked = all.filter((day) => workingDays.includes(((((day - FIRST_MONDAY) % 7) + 7) % 7) + 1));
	// In less than a week days off would make the interval longer than was promised.
	const shared = worked.length > 0 && days >= 7 ? worked : all;
	return shared[Math.floor(((place + 0.5) * shared.length) / of)] as number;
}
