/**
 * The value itself, if it lies in its valid range.
 *
 * @param name what the value is, with its unit, as a reader would say it
 * @param value the number to check
 * @param min smallest valid value, inclusive
 * @param max largest valid value, inclusive
 * @param remedy what to do about it, a short clause (optional)
 * @returns the value, unchanged
 * @throws RangeError that tells the name, the value and the range; NaN is always refused
 */
export function valueWithin(name: string, value: number, min: number, max: number, remedy?: string): number {
	if (value >= min && value <= max) return value;
	throw new RangeError(`${name} must be ${min} to ${max}, got ${value}${remedy ? `: ${remedy}` : ""}`);
}
