import { Clock } from "./clock.js";
import { Randomness } from "./randomness.js";

/** Crockford's base 32 without I, L, O, U. */
const DIGITS = "0123456789abcdefghjkmnpqrstvwxyz";

/**
 * Text ids that sort by the time of their making: 9 digits of milliseconds, 3 of order within one process, 10 of chance.
 * Rows that are made together then lie together in every index, which decides the rate of writes.
 */
export class Ids {
	private order = 0;

	constructor(
		private readonly clock: Clock,
		private readonly randomness: Randomness,
	) {}

	/** @returns a new id of 22 characters, unique with 50 random bits beside time and order */
	next(): string {
		this.order = (this.order + 1) % 32_768;
		return base32(this.clock.nowMs(), MS_DIGITS) + base32(this.order, 3) + base32(this.randomness.below(CHANCES), 10);
	}
}

/** @returns what no id that is made from that instant on is less than */
export function firstIdAt(atMs: number): string {
	return base32(atMs, 9);
}

/** 50 random bits: ten digits. */
const CHANCES = 2 ** 50;

/** @returns a text before every id that is made from an instant on, and after every one that was made before it */
export function idsFrom(atMs: number): string {
	return base32(atMs, MS_DIGITS);
}

const MS_DIGITS = 9;

function base32(value: number, length: number): string {
	let text = "";
	for (let rest = value, i = 0; i < length; i++, rest = Math.floor(rest / 32)) text = DIGITS[rest % 32] + text;
	return text;
}
