import { normalQuantile } from "./normal.js";
import { valueWithin } from "./valid-range.js";
import { wholeWithin } from "./whole-number.js";

/** A share with its bounds. */
export interface ShareInterval {
	readonly low: number;
	readonly share: number;
	readonly high: number;
}

/**
 * Score that a two-sided confidence stands for.
 *
 * @param confidence 0.5 to 0.9999
 * @returns z, 1.959964 for 0.95
 * @throws RangeError outside the range
 */
export function zOfConfidence(confidence: number): number {
	return normalQuantile((1 + valueWithin("confidence", confidence, 0.5, 0.9999)) / 2);
}

/**
 * Wilson score interval of a share.
 *
 * @param count `successes` whole, 0 to `trials`; `trials` whole, 1 to 1e9; `confidence` 0.5 to 0.9999 (default 0.95)
 * @returns share and bounds, inside 0 to 1; exactly 0 or 1 at the end where nothing or everything succeeded
 * @throws RangeError outside these ranges or for a part of a count
 * Source: Wilson 1927, J. Am. Stat. Assoc. 22:209; without continuity correction.
 */
export function wilsonInterval(count: {
	readonly successes: number;
	readonly trials: number;
	readonly confidence?: number;
}): ShareInterval {
	const n = wholeWithin("trials", count.trials, 1, 1e9);
	const successes = wholeWithin("successes", count.successes, 0, n);
	const z = zOfConfidence(count.confidence ?? 0.95);
	const share = successes / n;
	const scale = 1 + (z * z) / n;
	const centre = (share + (z * z) / (2 * n)) / scale;
	const half = (z * Math.sqrt((share * (1 - share)) / n + (z * z) / (4 * n * n))) / scale;
	return {
		low: successes === 0 ? 0 : Math.max(0, centre - half),
		share,
		high: successes === n ? 1 : Math.min(1, centre + half),
	};
}
