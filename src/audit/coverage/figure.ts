import { wilsonInterval } from "../../science/wilson.js";

/** What was counted of one indicator. */
export interface Counts {
	readonly numerator: number;
	readonly denominator: number;
	/** Of which nothing can be said; in neither of the two. */
	readonly missing: number;
}

/** A figure with what one needs in order to believe it. */
export interface Figure extends Counts {
	/** Code of the indicator. */
	readonly indicator: string;
	/** 0 to 1; none where the denominator is 0. */
	readonly share: number | null;
	/** Wilson interval of 95 %. */
	readonly low: number | null;
	readonly high: number | null;
}

export const NOTHING: Counts = { numerator: 0, denominator: 0, missing: 0 };

export const together = (a: Counts, b: Counts): Counts => ({
	numerator: a.numerator + b.numerator,
	denominator: a.denominator + b.denominator,
	missing: a.missing + b.missing,
});

/**
 * The figure of counts. The interval tells how far chance alone may have brought the share, as if those counted were a random sample of
 * all that might have been; of everybody who is on file the share itself is exact.
 */
export function figureOf(indicator: string, { numerator, denominator, missing }: Counts): Figure {
	const counts = { indicator, numerator, denominator, missing };
	if (denominator === 0) return { ...counts, share: null, low: null, high: null };
	const { low, share, high } = wilsonInterval({ successes: numerator, trials: denominator });
	return { ...counts, share, low, high };
}
