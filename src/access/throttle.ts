import type { Store } from "../store/store.js";
import { type Clock, HOUR_MS, MINUTE_MS } from "../time/clock.js";
import { hashOf } from "./secrets.js";

/** So many tries in a while. */
export interface Allowance {
	readonly most: number;
	readonly inMs: number;
}

/**
 * How often one may try. Nothing locks an account: whoever tries again and again slows herself down, and, from devices that the
 * account doesn't know, the other strangers; its holder comes in from a device in which she has signed in before, or by a new password.
 * Common practice, no source.
 */
export const ALLOWED = {
	/** Passwords, from one address, of one account. */
	pair: { most: 10, inMs: 15 * MINUTE_MS },
	/** Passwords, from one known device. */
	device: { most: 10, inMs: 15 * MINUTE_MS },
	/** Passwords of one account from everywhere, known devices not counted. */
	strangers: { most: 50, inMs: HOUR_MS },
	/** Whatever is tried from one address, of all accounts and numbers. */
	address: { most: 60, inMs: 15 * MINUTE_MS },
	/** Codes that one number asks for. */
	codesAsked: { most: 3, inMs: 15 * MINUTE_MS },
	codesAskedADay: { most: 10, inMs: 24 * HOUR_MS },
	/** Codes that are tried of one number. */
	codesTried: { most: 10, inMs: 15 * MINUTE_MS },
	/** Links that are asked for to one account. */
	links: { most: 3, inMs: HOUR_MS },
} as const satisfies Record<string, Allowance>;

export type Allowed = keyof typeof ALLOWED;

/** Counts tries in the database, so that all processes count together and a start forgets nothing. */
export class Throttle {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
	) {}

	/**
	 * Counts a try before it is looked at, so that many at once are no way round.
	 * @param of what is counted: kept as its hash
	 * @returns how long to wait before it would be looked at; 0: now
	 */
	async tried(kind: Allowed, ...of: readonly string[]): Promise<number> {
		const { most, inMs }: Allowance = ALLOWED[kind];
		const nowMs = this.clock.nowMs();
		const [row] = await this.store.work.run(async (tx) => {
			await tx.affected("DELETE FROM throttle WHERE until_ms < $1", [nowMs]);
			return tx.query<{ count: number; untilMs: number }>(
				`INSERT INTO throttle (id, count, until_ms) VALUES ($1, 1, $2)
				 ON CONFLICT (id) DO UPDATE SET count = throttle.count + 1 RETURNING count, until_ms`,
				[keyOf(kind, of), nowMs + inMs],
			);
		});
		return row && row.count > most ? Math.max(1, row.untilMs - nowMs) : 0;
	}

	/** @returns how long to wait at the most for all of them; 0: none is used up */
	async triedAll(...all: readonly (readonly [Allowed, ...string[]])[]): Promise<number> {
		let waitMs = 0;
		for (const [kind, ...of] of all) waitMs = Math.max(waitMs, await this.tried(kind, ...of));
		return waitMs;
	}

	/** It was right: what was tried before isn't held against her. */
	async forget(kind: Allowed, ...of: readonly string[]): Promise<void> {
		await this.store.work.run((tx) => tx.affected("DELETE FROM throttle WHERE id = $1", [keyOf(kind, of)]));
	}

	/** It was right: this one try isn't counted. */
	async refund(kind: Allowed, ...of: readonly string[]): Promise<void> {
		await this.store.work.run((tx) =>
			tx.affected("UPDATE throttle SET count = count - 1 WHERE id = $1 AND count > 0", [keyOf(kind, of)]),
		);
	}
}

function keyOf(kind: Allowed, of: readonly string[]): string {
	return hashOf(JSON.stringify([kind, ...of]));
}
