import type { Randomness } from "../../src/time/randomness.js";

/** What makes things by chance, spoils them, and says how. */
export abstract class Spoiler {
	constructor(protected readonly chance: Randomness) {}

	protected is(share: number): boolean {
		return this.chance.fraction() < share;
	}

	protected pick<T>(from: readonly T[]): T {
		return from[Math.floor(this.chance.fraction() * from.length)] as T;
	}

	/** @returns a text with its end missing */
	protected cutOff(how: string[], text: string): string {
		return this.said(how, "cut off", text.slice(0, Math.floor(text.length * this.chance.fraction())));
	}

	/** Notes what was done to a thing. */
	protected said<T>(how: string[], what: string, value: T): T {
		how.push(what);
		return value;
	}
}
