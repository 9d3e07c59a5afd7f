import { valueWithin } from "./valid-range.js";

/**
 * The value itself, if it is a whole number in its range.
 *
 * @param name what is counted
 * @param value the number to check
 * @param min smallest, inclusive
 * @param max largest, inclusive
 * @returns the value
 * @throws RangeError that tells name, value and range
 */
export function wholeWithin(name: string, value: number, min: number, max: number): number {
	if (Number.isInteger(value)) return valueWithin(name, value, min, max);
	throw new RangeError(`${name} must be a whole number from ${min} to ${max}, got ${value}`);
}
