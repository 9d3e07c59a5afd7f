import type { Answered } from "./kind.js";

/** An answer that changes nothing: the task stays open, and the text says what would be right. */
export function refused(text: string, fill: Readonly<Record<string, string | number>>): Answered {
	return { accepted: false, state: "done", outcome: {}, tell: { text, fill, urgent: false }, nextDueAtMs: null };
}
