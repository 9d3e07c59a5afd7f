import { DAY_MS, HOUR_MS, MINUTE_MS } from "../time/clock.js";
import type { Randomness } from "../time/randomness.js";

/** After the first failed try, the second... and every later one. */
const LADDER_MS = [15_000, MINUTE_MS, 5 * MINUTE_MS, 20 * MINUTE_MS, HOUR_MS, 3 * HOUR_MS] as const;

/** A channel that asks for more than a day is asked again after a day. */
export const LONGEST_RETRY_AFTER_MS = DAY_MS;

/**
 * How long a message rests after a failed try.
 * @param failedTries tries that failed so far, at least 1
 * @param randomness spreads the waits over half to one and a half times the ladder, so that a channel that comes back isn't run over
 * @param retryAfterMs what the channel itself asked for, milliseconds; nothing is tried sooner, and nothing waits longer than 24 h for it
 * @returns milliseconds
 * Source: the ladder (15 s, 60 s, 5 min, 20 min, 1 h, 3 h, jitter 0.5 to 1.5) is common practice for text-message gateways, no published source.
 */
export function restAfterFailureMs(failedTries: number, randomness: Randomness, retryAfterMs = 0): number {
	const step = LADDER_MS[Math.min(Math.max(failedTries, 1), LADDER_MS.length) - 1]!;
	const own = step * (0.5 + randomness.fraction());
	return Math.round(Math.max(own, Math.min(retryAfterMs, LONGEST_RETRY_AFTER_MS)));
}

/**
 * The wait that an HTTP answer asks for.
 * @param value the Retry-After field: whole seconds, or an HTTP date
 * @param nowMs epoch milliseconds
 * @returns milliseconds from 0 to 24 h; undefined where there is none or it can't be read
 * Source: RFC 9110 (2022), section 10.2.3, with the dates of section 5.6.7
 */
export function retryAfterMs(value: string | null | undefined, nowMs: number): number | undefined {
	const text = value?.trim();
	if (!text) return undefined;
	if (/^\d{1,15}$/.test(text)) return Math.min(Number(text) * 1000, LONGEST_RETRY_AFTER_MS);
	// Anything else that Date.parse would take (years alone, ISO dates, local times) isn't an HTTP date.
	if (!/^[A-Z][a-z]{2}, \d{2} [A-Z][a-z]{2} \d{4} \d{2}:\d{2}:\d{2} GMT$/.test(text)) return undefined;
	const atMs = Date.parse(text);
	return Number.isNaN(atMs) ? undefined : Math.min(Math.max(atMs - nowMs, 0), LONGEST_RETRY_AFTER_MS);
}
