import type { TaskAnswer } from "./kind.js";

/**
 * How much was done, in the unit that the task asked for.
 * @param planned what "done" stands for
 * @returns what was answered with; NaN where it isn't a number
 */
export function amountOf(answer: Exclude<TaskAnswer, { kind: "cannot" }>, planned: number): number {
	return answer.kind === "done" ? planned : Number(answer.reading.replace("+", ""));
}
