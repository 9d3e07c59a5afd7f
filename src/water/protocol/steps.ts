import { BAND_LISTS, type Band, type Check, type Outcome, type Protocol } from "./protocol.js";

/** A way from a check to another. */
export interface Step {
	readonly check: Check;
	readonly band: Band;
	readonly outcome: Outcome;
	readonly to: string;
	/** How often it can be taken at one fill; Infinity: as often as the reading comes. */
	readonly times: number;
	/** JSON Pointer of the band. */
	readonly at: string;
}

/** @returns every way from a check to another that the protocol writes down */
export function stepsOf(protocol: Protocol): Step[] {
	return protocol.checks.flatMap((check, c) =>
		BAND_LISTS.flatMap((list) =>
			(check[list] ?? []).flatMap((band, b): Step[] => {
				const at = `/checks/${c}/${list}/${b}`;
				const ways: [Outcome, number][] = [[band, band.repeated ? band.repeated.time - 1 : Number.POSITIVE_INFINITY]];
				if (band.repeated) ways.push([band.repeated, Number.POSITIVE_INFINITY]);
				return ways.flatMap(([outcome, times]) =>
					"check" in outcome.next ? [{ check, band, outcome, to: outcome.next.check, times, at }] : [],
				);
			}),
		),
	);
}

function reachedFrom(starts: readonly string[], steps: readonly Step[]): Set<string> {
	const reached = new Set(starts);
	const open = [...starts];
	for (let code = open.pop(); code !== undefined; code = open.pop()) {
		for (const step of steps) {
			if (step.check.code !== code || reached.has(step.to)) continue;
			reached.add(step.to);
			open.push(step.to);
		}
	}
	return reached;
}

/** @returns the codes of the checks that can be come to, from a dose or a visit */
export function reachedChecks(protocol: Protocol): Set<string> {
	const starts = protocol.checks.filter(({ begins }) => begins !== null).map(({ code }) => code);
	return reachedFrom(starts, stepsOf(protocol));
}

/**
 * Steps that never end.
 * A way with a bound is used up some day, so whatever goes on for ever goes in a circle of ways without one.
 * @returns the unbounded ways that lie on such a circle, among the checks that can be come to
 */
export function endlessSteps(protocol: Protocol): Step[] {
	const reached = reachedChecks(protocol);
	const unbounded = stepsOf(protocol).filter(({ times, check }) => times === Number.POSITIVE_INFINITY && reached.has(check.code));
	return unbounded.filter((step) => reachedFrom([step.to], unbounded).has(step.check.code));
}

/**
 * Bound on the readings that one fill asks for until the steps end.
 * @param protocol without endless steps
 * @returns a number of checks that isn't passed, whatever is read; Infinity where the steps never end
 * Between two bounded ways no check is come to twice: (bounded ways + 1) · checks.
 */
export function mostChecks(protocol: Protocol): number {
	if (endlessSteps(protocol).length > 0) return Number.POSITIVE_INFINITY;
	const bounded = stepsOf(protocol).filter(({ times }) => Number.isFinite(times));
	return (bounded.reduce((sum, { times }) => sum + times, 0) + 1) * reachedChecks(protocol).size;
}
