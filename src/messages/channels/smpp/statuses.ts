import type { Delivery } from "../../notifier.js";

/** Ask for a slower pace: throttled, and the centre's queue is full. */
const SLOWER = new Set([0x58, 0x14]);
/** The same message will never be taken: bad length, source, destination, number of destinations, type of number, text, priority, scheduled time, validity. */
const NEVER = new Set([
	0x01, 0x02, 0x03, 0x06, 0x0a, 0x0b, 0x33, 0x34, 0x42, 0x43, 0x44, 0x48, 0x49, 0x50, 0x51, 0x61, 0x62, 0x65, 0x66,
]);
/** No password and no name of ours will do: nothing is mended by trying again. */
const NO_WAY_IN = new Set([0x0d, 0x0e, 0x0f]);

/**
 * What a command_status other than 0 means for a message.
 * @param throttledMs how long everything rests where the centre wants a slower pace
 * Source: SMPP Protocol Specification v3.4, section 5.1.3; which of them pass is common practice, no source
 */
export function refusalBy(status: number, throttledMs: number): Extract<Delivery, { kind: "refused" }> {
	const reason = `SMPP status 0x${status.toString(16).padStart(2, "0")}`;
	if (SLOWER.has(status)) return { kind: "refused", reason, forGood: false, throttled: true, retryAfterMs: throttledMs };
	return { kind: "refused", reason, forGood: NEVER.has(status) };
}

/** @returns whether a refused bind won't do better later */
export function isNoWayIn(status: number): boolean {
	return NO_WAY_IN.has(status);
}

export const ROK = 0;
/** What is handed in is to be handed in again later. Source: SMPP 3.4, section 5.1.3, ESME_RX_T_APPN */
export const AGAIN_LATER = 0x64;
export const UNKNOWN_COMMAND = 0x03;
