import { valueWithin } from "./valid-range.js";

/** What single values do while nothing changes. */
export interface ControlLimits {
	readonly centre: number;
	/** Standard deviation from the moving ranges. */
	readonly sd: number;
	readonly lower: number;
	readonly upper: number;
}

/** Mean range of two normal values in standard deviations. Source: d2 for samples of two, any table of control chart constants. */
const D2 = 1.128;

/**
 * Control limits of single values, three standard deviations either way, from their moving ranges.
 *
 * @param values 2 or more in the order of time, any unit
 * @param leastSd what one value strays by at the least, in the values' unit, 0 or more; 0 where left out. Readings on a coarse scale
 *   are often the same: their own ranges would leave no room for a neighbouring reading
 * @returns centre, standard deviation and both limits in the values' unit
 * @throws RangeError for fewer than 2 values, one that is no finite number, or a spread below 0
 * Source: individuals chart, NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.2; Shewhart's three sigma.
 */
export function controlLimits(values: readonly number[], leastSd = 0): ControlLimits {
	valueWithin("values of a control chart", values.length, 2, 100_000);
	valueWithin("least standard deviation", leastSd, 0, Number.MAX_VALUE);
	let sum = 0;
	let ranges = 0;
	for (const [i, value] of values.entries()) {
		sum += valueWithin(`value ${i + 1}`, value, -Number.MAX_VALUE, Number.MAX_VALUE);
		if (i > 0) ranges += Math.abs(value - values[i - 1]!);
	}
	const centre = sum / values.length;
	const sd = Math.max(leastSd, ranges / (values.length - 1) / D2);
	return { centre, sd, lower: centre - 3 * sd, upper: centre + 3 * sd };
}
