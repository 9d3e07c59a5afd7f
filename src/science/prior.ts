import { valueWithin } from "./valid-range.js";

/** What is believed of a batch before any test: two independent lognormals. */
export interface Prior {
	/** Median of the strength when made, g/L as Cl2, 0.05 to 150. */
	readonly medianInitialGPerL: number;
	/** Standard deviation of its logarithm, 0.01 to 1 (0.15 to 0.25 is usual). */
	readonly lnInitialSd: number;
	/** Median of the batch's rate against the expected one, 0.0001 to 10 000 (1 = as expected). */
	readonly medianRateMultiplier: number;
	/** Standard deviation of its logarithm, 0.05 to 3 (pH unknown 1.6, strip 1.25, meter 0.9). */
	readonly lnRateSd: number;
}

/**
 * The prior itself, if its four numbers lie in their ranges.
 *
 * @throws RangeError that names the number, its value and its range
 */
export function checkedPrior(prior: Prior): Prior {
	valueWithin("median initial strength in g/L", prior.medianInitialGPerL, 0.05, 150);
	valueWithin("log-sd of the initial strength", prior.lnInitialSd, 0.01, 1);
	valueWithin("median rate multiplier", prior.medianRateMultiplier, 1e-4, 1e4);
	valueWithin("log-sd of the rate multiplier", prior.lnRateSd, 0.05, 3);
	return prior;
}
