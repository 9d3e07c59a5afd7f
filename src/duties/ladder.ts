import type { LadderStep, Policy } from "../programme/policy.js";
import { HOUR_MS, MINUTE_MS } from "../time/clock.js";
import { afterWorkingMs, type ContactTimes } from "../time/local.js";

/** One step, with every repeat a step of its own. */
export interface Rung extends Pick<LadderStep, "to" | "clock" | "urgent"> {
	readonly afterMs: number;
	readonly channels: readonly string[] | null;
}

/**
 * The ladder of a kind of work, its steps in the order of their times, each repeat by itself.
 * @param awaited whether people wait for this very task
 */
export function ladderOf(
	{ ladder, ladders, awaitedLadder }: Pick<Policy, "ladder" | "ladders" | "awaitedLadder">,
	kind: string,
	awaited = false,
): Rung[] {
	const usual = Object.hasOwn(ladders, kind) ? (ladders[kind] ?? ladder) : ladder;
	const steps = awaited ? awaitedLadder : usual;
	return steps
		.flatMap((step) => Array.from({ length: step.times }, (_, repeat) => rungOf(step, repeat)))
		.sort((a, b) => a.afterMs - b.afterMs);
}

function rungOf({ afterHours, afterMinutes, everyHours = 0, to, clock, urgent, channels }: LadderStep, repeat: number): Rung {
	const firstMs = afterHours === undefined ? (afterMinutes ?? 0) * MINUTE_MS : afterHours * HOUR_MS;
	return { afterMs: firstMs + repeat * everyHours * HOUR_MS, to, clock, urgent, channels: channels ?? null };
}

/** The steps that are to be taken now, and when the next one is. */
export interface Climb {
	/** At most one a kind of recipient: after a long silence of the program nobody is written to twice at once. */
	readonly steps: readonly (Rung & { readonly number: number })[];
	readonly ladderStep: number;
	readonly nextStepAtMs: number | null;
}

/**
 * Which steps of the ladder an unanswered task has reached.
 * @param taken how many steps after the first message were taken before
 * @param fromMs from when steps are counted, epoch milliseconds
 * @param times of the assignee, by which working time is counted; without them it is the wall clock
 */
export function climbOf(
	ladder: readonly Rung[],
	taken: number,
	fromMs: number,
	nowMs: number,
	times: ContactTimes | undefined,
): Climb {
	const latest = new Map<Rung["to"], number>();
	let reached = taken;
	let next = stepAtMs(ladder, reached, fromMs, times);
	while (next !== null && next <= nowMs) {
		latest.set((ladder[reached] as Rung).to, reached);
		reached += 1;
		next = stepAtMs(ladder, reached, fromMs, times);
	}
	return {
		steps: [...latest.values()].map((at) => ({ ...(ladder[at] as Rung), number: at + 1 })),
		ladderStep: reached,
		nextStepAtMs: next,
	};
}

/** @returns when a step is taken, epoch milliseconds; null where the ladder has ended */
export function stepAtMs(ladder: readonly Rung[], step: number, fromMs: number, times: ContactTimes | undefined): number | null {
	const next = ladder[step];
	if (!next) return null;
	return next.clock === "working" && times ? afterWorkingMs(fromMs, next.afterMs, times) : fromMs + next.afterMs;
}
