import { InputError } from "../errors/errors.js";

/**
 * What is told of has happened, so it can't lie ahead.
 * @param atMs of what is told, epoch milliseconds; one that isn't a number is refused too
 * @param at JSON Pointer of the field
 * @throws InputError `time-in-future`
 */
export function refuseFuture(atMs: number, nowMs: number, at: string): void {
	if (atMs <= nowMs) return;
	throw new InputError("time-in-future", "The instant lies in the future; one not after now would be right.", {
		problems: [{ at, message: "must not be after now" }],
	});
}
