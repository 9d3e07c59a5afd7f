import { DAY_MS } from "../time/clock.js";
import type { Answered, Moment, Telling } from "./kind.js";

/**
 * Whoever was asked can't do it: the supervisor should know, and it is asked for again soon.
 * @param tellSupervisor what she is told; `name` and `code` are filled in
 * @param over what is kept or asked otherwise
 */
export function cannotBeDone(
	tellSupervisor: Pick<Telling, "text" | "fill"> & Partial<Pick<Telling, "urgent">>,
	{ nowMs, policy }: Moment,
	over: Partial<Pick<Answered, "outcome" | "nextDueAtMs">> = {},
): Answered {
	return {
		accepted: true,
		state: "cannot",
		outcome: { reason: "the volunteer can't" },
		tell: { text: "reply.cannot", fill: {}, urgent: false },
		tellSupervisor: { urgent: false, ...tellSupervisor },
		nextDueAtMs: nowMs + policy.askAgainDays * DAY_MS,
		...over,
	};
}

/** The same where no text of its own says more than what the work is about. @param about what it is about, by its code */
export function notDone(about: string, moment: Moment): Answered {
	return cannotBeDone({ text: "work.cannot.supervisor", fill: { about } }, moment, { outcome: { reason: "the person can't" } });
}
