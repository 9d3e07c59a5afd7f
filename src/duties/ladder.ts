import type { LadderStep, Policy } from "../programme/policy.js";
import { DAY_MS, HOUR_MS, MINUTE_MS } from "../time/clock.js";
import { afterWorkingMs, type ContactTimes } from "../time/local.js";

/** One step, with every repeat a step of its own. */
export interface Rung extends Pick<LadderStep, "to" | "clock" | "urgent"> {
	readonly afterMs: number;
	readonly channels: readonly string[] | null;
}

/**
 * The ladder of a kind of work, its steps in the order of their times, each repeat by itself.
 * @param urgent whether people wait for this very task
 */
export function ladderOf(
	{ ladder, ladders, awaitedLadder }: Pick<Policy, "ladder" | "ladders" | "awaitedLadder">,
	kind: string,
	urgent = false,
): Rung[] {
	const usual = Object.hasOwn(ladders, kind) ? (ladders[kind] ?? ladder) : ladder;
	const steps = urgent ? awaitedLadder : usual;
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
 * @param taken how many steps after the first message were taken before, over all rounds
 * @param fromMs from when steps are counted, epoch milliseconds
 * @param times of the assignee, by which working time is counted; without them it is the wall clock
 * @param againMs so long after its last step the ladder begins anew; null: it ends
 */
export function climbOf(
	ladder: readonly Rung[],
	taken: number,
	fromMs: number,
	nowMs: number,
	times: ContactTimes | undefined,
	againMs: number | null = null,
): Climb {
	const latest = new Map<Rung["to"], number>();
	const rung = (step: number) => ladder[step % ladder.length] as Rung;
	let reached = taken;
	let next = stepAtMs(ladder, reached, fromMs, times, againMs);
	while (next !== null && next <= nowMs) {
		latest.set(rung(reached).to, reached);
		reached += 1;
		next = stepAtMs(ladder, reached, fromMs, times, againMs);
	}
	return {
		steps: [...latest.values()].map((at) => ({ ...rung(at), number: at + 1 })),
		ladderStep: reached,
		nextStepAtMs: next,
	};
}

/** @returns when a step is taken, epoch milliseconds; null where the ladder has ended */
export function stepAtMs(
	ladder: readonly Rung[],
	step: number,
	fromMs: number,
	times: ContactTimes | undefined,
	againMs: number | null = null,
): number | null {
	const round = Math.floor(step / ladder.length);
	const next = ladder[step % ladder.length];
	const last = ladder.at(-1);
	if (!next || !last || (round > 0 && againMs === null)) return null;
	const afterMs = next.clock === "working" && times ? afterWorkingMs(fromMs, next.afterMs, times) - fromMs : next.afterMs;
	return fromMs + round * (last.afterMs + (againMs ?? 0)) + afterMs;
}

/** @returns how long after its last step a ladder rests before it begins anew, ms; null: it ends. By the programme's rules. */
export const restOfLadderMs = ({ ladderAgainDays }: Pick<Policy, "ladderAgainDays">): number | null =>
	ladderAgainDays === null ? null : ladderAgainDays * DAY_MS;

/** @returns whether a task's ladder begins anew with its next step */
export const beginsAnew = (ladder: readonly Rung[], taken: number): boolean =>
	ladder.length > 0 && taken > 0 && taken % ladder.length === 0;
