import type { LadderStep, Policy } from "../programme/policy.js";
import { HOUR_MS } from "../time/clock.js";

/** @returns when the first step after the first message is taken; null where the ladder has none */
export function firstStepAtMs(policy: Policy, openedAtMs: number): number | null {
	return stepAtMs(policy.ladder, 0, openedAtMs);
}

/** The steps that are to be taken now, and when the next one is. */
export interface Climb {
	/** At most one a kind of recipient: after a long silence of the program nobody is written to twice at once. */
	readonly steps: readonly { readonly number: number; readonly to: LadderStep["to"] }[];
	readonly ladderStep: number;
	readonly nextStepAtMs: number | null;
}

/**
 * Which steps of the ladder an unanswered task has reached.
 * @param taken how many steps after the first message were taken before
 */
export function climbOf(ladder: readonly LadderStep[], taken: number, openedAtMs: number, nowMs: number): Climb {
	const latest = new Map<LadderStep["to"], number>();
	let reached = taken;
	for (let at = stepAtMs(ladder, reached, openedAtMs); at !== null && at <= nowMs; at = stepAtMs(ladder, reached, openedAtMs)) {
		latest.set((ladder[reached] as LadderStep).to, reached + 1);
		reached += 1;
	}
	return {
		steps: [...latest].map(([to, number]) => ({ number, to })),
		ladderStep: reached,
		nextStepAtMs: stepAtMs(ladder, reached, openedAtMs),
	};
}

function stepAtMs(ladder: readonly LadderStep[], step: number, openedAtMs: number): number | null {
	const next = ladder[step];
	return next ? openedAtMs + next.afterHours * HOUR_MS : null;
}
