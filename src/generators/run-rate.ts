import { DAY_MS, HOUR_MS } from "../time/clock.js";

/** How often a generator runs, and for how long. */
export interface RunRate {
	readonly runsPerDay: number;
	readonly hoursPerDay: number;
}

/** The rhythm of the last runs counts, not that of last year. */
const RECENT = 10;

/**
 * The rate of a generator's runs, from which the next ones are expected.
 * @param runs in the order of time; one that is still going on isn't counted
 * @returns null for fewer than two runs: nothing can be said of a rhythm
 */
export function runRate(runs: readonly { readonly startedAtMs: number; readonly endedAtMs: number | null }[]): RunRate | null {
	const recent = runs
		.flatMap(({ startedAtMs, endedAtMs }) => (endedAtMs === null ? [] : [{ startedAtMs, endedAtMs }]))
		.slice(-RECENT);
	const [first, last] = [recent[0], recent.at(-1)];
	if (!first || !last || first === last) return null;
	const days = (last.startedAtMs - first.startedAtMs) / DAY_MS;
	const hours = recent.reduce((sum, run) => sum + (run.endedAtMs - run.startedAtMs), 0) / HOUR_MS;
	const runsPerDay = (recent.length - 1) / days;
	return { runsPerDay, hoursPerDay: (hours / recent.length) * runsPerDay };
}

/**
 * When a count that grows with the runs is expected to reach its limit.
 * @param left how much of it is left, above 0
 * @param perDay its rate; null: unknown
 * @returns an instant after now: an expectation that has passed without a run is put off by one run; null where no rate is known
 */
export function expectedAtMs(
	left: number,
	perDay: number | null,
	lastEndedAtMs: number,
	nowMs: number,
	rate: RunRate | null,
): number | null {
	if (perDay === null || perDay <= 0 || rate === null) return null;
	const atMs = lastEndedAtMs + (left / perDay) * DAY_MS;
	return Math.round(atMs > nowMs ? atMs : nowMs + DAY_MS / rate.runsPerDay);
}
