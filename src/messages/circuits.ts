import { HOUR_MS, MINUTE_MS } from "../time/clock.js";
import type { Randomness } from "../time/randomness.js";
import type { Delivery } from "./notifier.js";

/** closed: messages pass; open: none does; probing: one is on its way to find out. */
export type CircuitState = "closed" | "open" | "probing";

interface Circuit {
	/** Failures for now, one after the other, without an acceptance between them. */
	failures: number;
	/** Since when nothing passes; none: it is closed. */
	openSinceMs: number | undefined;
	/** When the next probe may go, or the one on its way is given up. */
	untilMs: number;
	waitMs: number;
	isProbing: boolean;
}

const FIRST_WAIT_MS = 15_000;
const LONGEST_WAIT_MS = 10 * MINUTE_MS;

/** A channel that has been away for so long isn't waited for any more by whoever has another. */
export const LONG_AWAY_MS = HOUR_MS;

/** What may be done with a channel now. */
export type Passage = { readonly may: true } | { readonly may: false; readonly untilMs: number; readonly openForMs: number };

/**
 * Whether channels are worth trying. After so many failures for now in a row a channel is left alone, messages wait without using up
 * their tries, and after a wait that doubles each time one message is let through to find out. An acceptance closes the circuit, and so
 * does a refusal for good or a plea for a slower pace, for both come from a channel that works.
 * Source of the form: common practice ("circuit breaker"), no source for 15 s to 10 min.
 */
export class Circuits {
	private readonly byChannel = new Map<string, Circuit>();

	/**
	 * @param failuresToOpen at least 1; none: circuits never open
	 * @param probeMs how long a probe may take
	 */
	constructor(
		private readonly failuresToOpen: number | undefined,
		private readonly probeMs: number,
		private readonly randomness: Randomness,
	) {}

	/** Asks for a message; who is let through a circuit that isn't closed is its probe, and must tell what was answered. */
	passage(channel: string, nowMs: number): Passage {
		const circuit = this.byChannel.get(channel);
		if (circuit?.openSinceMs === undefined) return { may: true };
		const openForMs = nowMs - circuit.openSinceMs;
		if (nowMs < circuit.untilMs) return { may: false, untilMs: circuit.untilMs, openForMs };
		circuit.isProbing = true;
		circuit.untilMs = nowMs + this.probeMs;
		return { may: true };
	}

	/** @returns the state in which a channel has come to be, where this answer has changed it */
	answered(channel: string, delivery: Delivery, nowMs: number): CircuitState | undefined {
		if (this.failuresToOpen === undefined) return undefined;
		const known = this.byChannel.get(channel);
		if (delivery.kind === "accepted" || delivery.forGood || delivery.throttled) {
			this.byChannel.delete(channel);
			return known?.openSinceMs === undefined ? undefined : "closed";
		}
		const circuit = known ?? { failures: 0, openSinceMs: undefined, untilMs: 0, waitMs: FIRST_WAIT_MS, isProbing: false };
		this.byChannel.set(channel, circuit);
		if (circuit.openSinceMs === undefined) {
			circuit.failures++;
			if (circuit.failures < this.failuresToOpen) return undefined;
			circuit.openSinceMs = nowMs;
		} else if (circuit.isProbing) circuit.waitMs = Math.min(circuit.waitMs * 2, LONGEST_WAIT_MS);
		// One that had begun before it opened tells nothing new.
		else return undefined;
		circuit.isProbing = false;
		circuit.untilMs = nowMs + Math.round(circuit.waitMs * (1 + this.randomness.fraction() / 2));
		return "open";
	}

	state(channel: string): CircuitState {
		const circuit = this.byChannel.get(channel);
		if (circuit?.openSinceMs === undefined) return "closed";
		return circuit.isProbing ? "probing" : "open";
	}
}
