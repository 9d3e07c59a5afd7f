import { normalCdf, normalQuantile } from "./normal.js";
import { valueWithin } from "./valid-range.js";

/** Hours that an electrode still lasts. */
export interface LifeLeft {
	/** One in twenty wears out sooner. */
	readonly lowHours: number;
	readonly medianHours: number;
	/** One in twenty lasts longer. */
	readonly highHours: number;
	/** Chance that such an electrode has lasted as long as this one has. */
	readonly chanceOfThisAge: number;
}

/**
 * Hours that an electrode still lasts, given that it has lasted so far.
 *
 * @param electrode `hoursRun` 0 to 100 000 h; nine in ten wear out between `lowHours` and `highHours`, 100 to 100 000 h
 * @returns quantiles of the life that is left
 * @throws RangeError outside these ranges, or if low isn't less than high
 * Assumes a lognormal life, cut off at what has been run: an electrode that has outlived most has little left, never less than 0.
 * Source: conditional life of a lognormal, any text on reliability; 4000 to 8000 h: makers' pages (secondary).
 */
export function electrodeLifeLeft(electrode: {
	readonly hoursRun: number;
	readonly lowHours: number;
	readonly highHours: number;
}): LifeLeft {
	const run = valueWithin("hours run", electrode.hoursRun, 0, 100_000);
	const low = Math.log(valueWithin("shorter life in h", electrode.lowHours, 100, 100_000));
	const high = Math.log(valueWithin("longer life in h", electrode.highHours, 100, 100_000));
	if (!(low < high))
		throw new RangeError(`shorter life must be less than the longer one, got ${electrode.lowHours} and ${electrode.highHours}`);
	const mean = (low + high) / 2;
	const sd = (high - low) / 2 / normalQuantile(0.95);
	// By the upper tail, which keeps its digits where nearly all have worn out.
	const surviving = run > 0 ? normalCdf((mean - Math.log(run)) / sd) : 1;
	const left = (chance: number) => Math.max(0, Math.exp(mean - sd * normalQuantile(surviving * (1 - chance))) - run);
	if (surviving < 1e-12) return { lowHours: 0, medianHours: 0, highHours: 0, chanceOfThisAge: surviving };
	return { lowHours: left(0.05), medianHours: left(0.5), highHours: left(0.95), chanceOfThisAge: surviving };
}
