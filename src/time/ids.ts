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
	private latest = { ms: Number.NaN, digits: "" };

	constructor(
		private readonly clock: Clock,
		private readonly randomness: Randomness,
	) {}

	/** @returns a new id of 22 characters, unique with 50 random bits beside time and order */
	next(): string {
		const ms = this.clock.nowMs();
		// Thousands are made in one millisecond: its digits are written once.
		if (ms !== this.latest.ms) this.latest = { ms, digits: instantDigits(ms) };
		this.order = (this.order + 1) % 32_768;
		const chance = this.randomness.below(CHANCES);
		const high = Math.floor(chance / 2 ** 25);
		return this.latest.digits + digits(this.order, 3) + digits(high, 5) + digits(chance - high * 2 ** 25, 5);
	}
}

/** @returns what no id that is made from that instant on is less than */
export function firstIdAt(atMs: number): string {
	return instantDigits(atMs);
}

function instantDigits(ms: number): string {
	return digits(Math.floor(ms / 2 ** 20), 5) + digits(ms % 2 ** 20, 4);
}

/** 50 random bits: ten digits. */
const CHANCES = 2 ** 50;

/** @returns a text before every id that is made from an instant on, and after every one that was made before it */
export function idsFrom(atMs: number): string {
	return instantDigits(atMs);
}

/** Two digits for each number under 1024: half the steps that single digits take. */
const PAIRS = Array.from({ length: 1024 }, (_, n) => DIGITS[n >>> 5]! + DIGITS[n & 31]);

/** @param value under 2^30: wholes of that size are reckoned with several times faster than larger ones; @param count digits, 3 to 5 */
function digits(value: number, count: 3 | 4 | 5): string {
	const last = PAIRS[value & 1023]!;
	if (count === 3) return DIGITS[(value >>> 10) & 31] + last;
	const middle = PAIRS[(value >>> 10) & 1023]!;
	return count === 4 ? middle + last : DIGITS[(value >>> 20) & 31] + middle + last;
}
