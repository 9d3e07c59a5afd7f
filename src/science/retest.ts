import type { Belief } from "./belief.js";
import { checkedWindow, type DueWindow } from "./due-instants.js";
import { exposureOver, type Journey } from "./journey.js";
import { underChanceOf } from "./under-chance.js";
import { MS_PER_DAY } from "./units.js";
import { valueWithin } from "./valid-range.js";

/** What a retest is planned from. */
export interface RetestQuestion extends Journey {
	readonly belief: Belief;
	/** Epoch milliseconds. */
	readonly madeAtMs: number;
	/** Its latest test that is part of the belief, epoch milliseconds; left out if there is none. */
	readonly lastTestAtMs?: number;
	/** Epoch milliseconds, not before the making. */
	readonly nowMs: number;
	/** Strength it must have, above 0 to 1000 g/L as Cl2. */
	readonly limitGPerL: number;
	/** Chance of being under the limit that is accepted, 0.005 to 0.5. */
	readonly tolerance: number;
	/** Shortest and longest time between tests; 1 day and 30 days if left out. */
	readonly window?: DueWindow;
	/** How far ahead remaining life is counted, 1 to 730 days; 180 if left out. */
	readonly horizonDays?: number;
}

/** When to test next, and what the batch is worth until then. */
export interface RetestPlan {
	/** Epoch milliseconds, never before now. */
	readonly dueAtMs: number;
	/**
	 * `chancePassesTolerance`: on that day it does. `alreadyPassed`: it has, and the shortest time since the last test is kept.
	 * `shortestTime`: it would pass sooner than that. `longestTime`: it won't for long, but no batch goes untested for longer.
	 */
	readonly reason: "chancePassesTolerance" | "alreadyPassed" | "shortestTime" | "longestTime";
	/** Mean over the belief of the days until it is under the limit; a batch that outlasts the horizon counts with the horizon. */
	readonly expectedRemainingDays: number;
	/** Chance of being under the limit now, 0 to 1. */
	readonly chanceUnderNow: number;
	/** `weak`: more likely under the limit than not. `retestNow`: the tolerance is passed. `usable`: neither. */
	readonly verdict: "usable" | "retestNow" | "weak";
}

const DEFAULT_WINDOW: DueWindow = { shortestMs: MS_PER_DAY, longestMs: 30 * MS_PER_DAY };
const WEAK_ABOVE = 0.5;
/** Halves of the square root of time over the horizon, for Simpson's rule. */
const LIFE_STEPS = 64;

/**
 * When a batch should be tested next, by the full belief and the calendar of its place.
 *
 * @param question belief, place, moments and limits; see the fields
 * @returns the plan
 * @throws RangeError for a value outside its range, a moment before the making, or a window that ends before it starts
 *
 * Source: own rule: due is the first instant from now on at which the chance of being under the limit passes the tolerance.
 */
export function retestPlan(question: RetestQuestion): RetestPlan {
	const { belief, madeAtMs, lastTestAtMs, nowMs, tolerance } = question;
	const { shortestMs, longestMs } = checkedWindow(question.window ?? DEFAULT_WINDOW);
	valueWithin("tolerance", tolerance, 0.005, 0.5);
	const limitGPerL = valueWithin("limit in g/L", question.limitGPerL, 1e-3, 1000);
	const horizonDays = valueWithin("horizon in days", question.horizonDays ?? 180, 1, 730);
	if (!(nowMs >= madeAtMs && (lastTestAtMs === undefined || (lastTestAtMs >= madeAtMs && lastTestAtMs <= nowMs)))) {
		throw new RangeError(`making, last test and now must follow each other, got ${madeAtMs}, ${lastTestAtMs} and ${nowMs} ms`);
	}
	const under = underChanceOf(belief);
	const chanceAt = (ms: number) => under(exposureOver(question, madeAtMs, ms), limitGPerL);
	const chanceUnderNow = chanceAt(nowMs);
	const earliest = lastTestAtMs === undefined ? nowMs : Math.max(nowMs, lastTestAtMs + shortestMs);
	const latest = Math.max(nowMs, (lastTestAtMs ?? madeAtMs) + longestMs);
	const verdict = chanceUnderNow > WEAK_ABOVE ? "weak" : chanceUnderNow > tolerance ? "retestNow" : "usable";
	const remaining = expectedRemainingDays(chanceAt, chanceUnderNow, nowMs, horizonDays);
	const plan = (dueAtMs: number, reason: RetestPlan["reason"]): RetestPlan => ({
		dueAtMs,
		reason,
		expectedRemainingDays: remaining,
		chanceUnderNow,
		verdict,
	});
	if (chanceUnderNow > tolerance) return plan(earliest, "alreadyPassed");
	if (chanceAt(latest) <= tolerance) return plan(latest, "longestTime");
	const passes = firstInstantAbove(chanceAt, tolerance, nowMs, latest);
	return passes < earliest ? plan(earliest, "shortestTime") : plan(passes, "chancePassesTolerance");
}

/** First whole second at which a chance that never falls is above a level; it is not at the start and is at the end. */
function firstInstantAbove(chanceAt: (ms: number) => number, level: number, fromMs: number, untilMs: number): number {
	let low = fromMs;
	let high = untilMs;
	while (high - low > 1000) {
		const middle = Math.floor((low + high) / 2);
		if (chanceAt(middle) > level) high = middle;
		else low = middle;
	}
	return high;
}

/** Mean of min(remaining life, horizon): the integral of the chance of still being good, by Simpson's rule in √time. */
function expectedRemainingDays(chanceAt: (ms: number) => number, chanceNow: number, nowMs: number, horizonDays: number): number {
	// The integrand is (1 - chance)·2·H·s ds with t = H·s²: dense where a batch near its end changes fast.
	const integrand = (step: number) => {
		const s = step / LIFE_STEPS;
		return step === 0 ? 0 : (1 - chanceAt(nowMs + horizonDays * MS_PER_DAY * s * s)) * 2 * horizonDays * s;
	};
	if (chanceNow >= 1) return 0;
	let sum = integrand(0) + integrand(LIFE_STEPS);
	for (let step = 1; step < LIFE_STEPS; step++) sum += integrand(step) * (step % 2 === 1 ? 4 : 2);
	return Math.max(0, sum / (3 * LIFE_STEPS));
}
