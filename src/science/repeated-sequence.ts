import { valueWithin } from "./valid-range.js";
import { wholeWithin } from "./whole-number.js";

/** A stretch of readings that comes a second time. */
export interface RepeatedSequence {
	readonly length: number;
	/** Index at which it begins for the first and for the second time. */
	readonly first: number;
	readonly again: number;
}

/**
 * Longest stretch of a series that comes again, in the same order and without sharing a reading with its first coming.
 *
 * @param values in the order they were taken, at most 2000
 * @returns the stretch, the earliest of several; null for fewer than 2 values or where no value comes twice
 * @throws RangeError for more values
 */
export function longestRepeatedSequence(values: readonly number[]): RepeatedSequence | null {
	const n = valueWithin("values in the series", values.length, 0, 2000);
	let best: RepeatedSequence | null = null;
	// ends[j]: how long what ends at i and at j is alike, by the row before.
	let ends = new Array<number>(n).fill(0);
	for (let i = 0; i < n; i++) {
		const next = new Array<number>(n).fill(0);
		for (let j = i + 1; j < n; j++) {
			if (values[i] !== values[j]) continue;
			const length = Math.min((ends[j - 1] ?? 0) + 1, j - i);
			next[j] = length;
			if (length > (best?.length ?? 0)) best = { length, first: i - length + 1, again: j - length + 1 };
		}
		ends = next;
	}
	return best;
}

/**
 * Chance that some stretch of so many readings comes again in a series, at most.
 *
 * @param series `matchChance` that two readings are the same, 0 to 1; `readings` 2 to 2000; `length` 1 to 2000
 * @returns the expected number of such pairs of stretches, 1 at most: an upper bound of the chance for independent readings
 * @throws RangeError outside these ranges
 * Source: Boole's inequality over the (n - 2L + 1)(n - 2L + 2)/2 pairs of stretches that share no reading, each alike with chance m^L.
 */
export function chanceOfRepeat(series: {
	readonly matchChance: number;
	readonly readings: number;
	readonly length: number;
}): number {
	const match = valueWithin("chance that two readings are the same", series.matchChance, 0, 1);
	const n = wholeWithin("readings", series.readings, 2, 2000);
	const length = wholeWithin("length of the stretch", series.length, 1, 2000);
	const free = n - 2 * length + 1;
	return free < 1 ? 0 : Math.min(1, ((free * (free + 1)) / 2) * match ** length);
}
