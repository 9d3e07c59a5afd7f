import { valueWithin } from "./valid-range.js";

/** One reading of a jar, as it tells of the bleach in it. */
export interface ReadStrength {
	/** g/L as Cl2, 0 or more. */
	readonly lowGPerL: number;
	/** null: this or more. */
	readonly highGPerL: number | null;
	/** Standard deviation of the logarithm of measured over true strength, above 0. */
	readonly logSd: number;
}

/**
 * How far two readings of the same bleach lie apart.
 *
 * @param first and
 * @param second readings within hours, so that storage has changed nothing that matters
 * @returns the gap between the two intervals in standard deviations of what both readings' errors allow together; 0 where they touch
 * @throws RangeError for bounds that aren't in order, or a spread outside 0.01 to 2
 * Source: difference of two independent lognormal errors; the gap and not the middles, because a colour band says no more than where it
 * begins and ends.
 */
export function readingsApartSd(first: ReadStrength, second: ReadStrength): number {
	const [lower, upper] = first.lowGPerL <= second.lowGPerL ? [first, second] : [second, first];
	const sd = Math.hypot(
		valueWithin("log-sd of a reading", lower.logSd, 0.01, 2),
		valueWithin("log-sd of a reading", upper.logSd, 0.01, 2),
	);
	const top = lower.highGPerL ?? Number.POSITIVE_INFINITY;
	valueWithin("high end of a reading in g/L", top, valueWithin("low end of a reading in g/L", lower.lowGPerL, 0, 1e6), Infinity);
	if (top >= upper.lowGPerL || upper.lowGPerL === 0) return 0;
	// No colour at all has no logarithm: it is taken for the smallest strength that matters.
	return Math.log(upper.lowGPerL / Math.max(top, LEAST_G_PER_L)) / sd;
}

const LEAST_G_PER_L = 0.01;
