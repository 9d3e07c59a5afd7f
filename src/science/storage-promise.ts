import type { ResidualReading } from "./residual-fit.js";
import { valueWithin } from "./valid-range.js";
import { waterClasses } from "./water-classes.js";

/** Whether a dose keeps what the household scheme promises. */
export type PromiseVerdict =
	| { readonly kind: "accepted" }
	/** Over the taste limit at 1 h, or under 0.2 mg/L when the promised hours are over, or both. */
	| { readonly kind: "notAccepted"; readonly tooHighAt1h: boolean; readonly tooLowAtEnd: boolean }
	| { readonly kind: "incomplete"; readonly missingHours: readonly number[] };

/**
 * Judgement of a household dosage test, read at 1, 2, 4, 8 and 24 h.
 *
 * @param turbidity "clear" or "cloudy"
 * @param readings each 0.5 to 720 h and 0 to 20 mg/L; those at 1 h and at the promised hours (24 clear, 8 cloudy) decide, each within
 *   a tenth of its time
 * @returns accepted if at most 2.0 (4.0 cloudy) at 1 h and at least 0.2 mg/L when the promised hours are over
 * @throws RangeError outside these ranges
 * Source: Lantagne 2008, J AWWA 100(8):106; Wilhelm et al. 2018, J Water Health 16:112.
 */
export function promiseVerdict(turbidity: "clear" | "cloudy", readings: readonly ResidualReading[]): PromiseVerdict {
	for (const { hours, residualMgPerL } of readings) {
		valueWithin("time since dosing in h", hours, 0.5, 720);
		valueWithin("residual in mg/L", residualMgPerL, 0, 20);
	}
	const { tasteMgPerL, useWithinHours } = waterClasses[turbidity];
	const at = (wanted: number) => readings.find(({ hours }) => Math.abs(hours - wanted) <= wanted / 10)?.residualMgPerL;
	const first = at(1);
	const end = at(useWithinHours);
	if (first === undefined || end === undefined) {
		return { kind: "incomplete", missingHours: [1, useWithinHours].filter((hours) => at(hours) === undefined) };
	}
	const tooHighAt1h = first > tasteMgPerL;
	const tooLowAtEnd = end < 0.2;
	return tooHighAt1h || tooLowAtEnd ? { kind: "notAccepted", tooHighAt1h, tooLowAtEnd } : { kind: "accepted" };
}
