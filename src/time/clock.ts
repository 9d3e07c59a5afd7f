/** The only source of "now". Rules take instants as values; services ask this port. */
export abstract class Clock {
	/** @returns the present instant in epoch milliseconds (UTC) */
	abstract nowMs(): number;
}

/** The machine's own clock. */
export class SystemClock extends Clock {
	nowMs(): number {
		return Date.now();
	}
}

/** A clock that stands still until it is moved; it may be moved back, as real clocks sometimes are. */
export class VirtualClock extends Clock {
	constructor(private instantMs: number) {
		super();
	}

	nowMs(): number {
		return this.instantMs;
	}

	moveTo(instantMs: number): void {
		this.instantMs = instantMs;
	}

	advance(durationMs: number): void {
		this.instantMs += durationMs;
	}
}

export const MINUTE_MS = 60_000;
export const HOUR_MS = 3_600_000;
export const DAY_MS = 86_400_000;
