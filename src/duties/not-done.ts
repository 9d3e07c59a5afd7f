import { DAY_MS } from "../time/clock.js";
import type { Answered, Moment } from "./kind.js";

/**
 * Whoever was asked can't do it: the supervisor should know, and it is asked for again soon.
 * @param about what the work is about, by its code
 */
export function notDone(about: string, { nowMs, policy }: Moment): Answered {
	return {
		accepted: true,
		state: "cannot",
		outcome: { reason: "the person can't" },
		tell: { text: "reply.cannot", fill: {}, urgent: false },
		tellSupervisor: { text: "work.cannot.supervisor", fill: { about }, urgent: false },
		nextDueAtMs: nowMs + policy.askAgainDays * DAY_MS,
	};
}
