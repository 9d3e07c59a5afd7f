import { valueWithin } from "./valid-range.js";

/** State of both sums after one value. */
export interface CusumPoint {
	readonly upper: number;
	readonly lower: number;
	/** Values since the upper sum was last zero. */
	readonly upperRun: number;
	readonly lowerRun: number;
}

/** First crossing of the limit. */
export interface CusumSignal {
	/** Index of the value that crossed, from 0. */
	readonly index: number;
	readonly direction: "up" | "down";
	/** Index of the last value before the shift, from 0; -1 when the shift was there from the start. */
	readonly lastBeforeShift: number;
	/** Estimate of the mean since the shift, in the values' unit. */
	readonly newMean: number;
}

/** A series with its cumulative sums. */
export interface Cusum {
	readonly points: readonly CusumPoint[];
	readonly signal: CusumSignal | null;
}

/**
 * Tabular cumulative sums of a series and the first change that they show.
 *
 * @param chart `values` in any unit; `target` mean in control; `slack` K, 0 or more (half the shift to be found); `limit` H, above 0;
 *   all three in the values' unit
 * @returns both sums at each value and the first value whose sum lies above the limit, null while none does
 * @throws RangeError for a negative slack, a limit of 0 or less, or a value that is no finite number
 * Source: Page 1954; Montgomery, Introduction to Statistical Quality Control, tabular CUSUM.
 */
export function cusum(chart: {
	readonly values: readonly number[];
	readonly target: number;
	readonly slack: number;
	readonly limit: number;
}): Cusum {
	const { values, target } = chart;
	const slack = valueWithin("slack", chart.slack, 0, Number.MAX_VALUE);
	const limit = valueWithin("limit", chart.limit, Number.MIN_VALUE, Number.MAX_VALUE);
	valueWithin("target", target, -Number.MAX_VALUE, Number.MAX_VALUE);
	const points: CusumPoint[] = [];
	let signal: CusumSignal | null = null;
	let last: CusumPoint = { upper: 0, lower: 0, upperRun: 0, lowerRun: 0 };
	for (const [index, value] of values.entries()) {
		valueWithin(`value ${index + 1}`, value, -Number.MAX_VALUE, Number.MAX_VALUE);
		const upper = Math.max(0, value - (target + slack) + last.upper);
		const lower = Math.max(0, target - slack - value + last.lower);
		last = { upper, lower, upperRun: upper > 0 ? last.upperRun + 1 : 0, lowerRun: lower > 0 ? last.lowerRun + 1 : 0 };
		points.push(last);
		if (signal || (upper <= limit && lower <= limit)) continue;
		const up = upper > limit;
		const run = up ? last.upperRun : last.lowerRun;
		signal = {
			index,
			direction: up ? "up" : "down",
			lastBeforeShift: index - run,
			newMean: up ? target + slack + upper / run : target - slack - lower / run,
		};
	}
	return { points, signal };
}
