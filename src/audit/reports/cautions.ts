import type { MonthlyReport } from "./monthly.js";
import { count } from "./words.js";

/** Under so many counted, a share says little (common practice, no source). */
const FEW = 30;

/** What holds for every report. */
export const LASTING_CAUTIONS = [
	"The figures are what volunteers and supervisors told; an independent sample says how far they can be relied on.",
	"The 95 % interval tells how far chance alone may have brought a share, as if those counted were a random sample; it doesn't tell of wrong answers.",
	"Colour tests are coarse: a reading near a limit may lie on either side of it.",
	"Whether water is safe is for the local health authority to say, by its own limits and tests. Chlorine of this strength doesn't kill every germ, and takes no chemical out of water.",
	"Where a figure points to people in danger, ask on the spot first, and do as the local protocol has it.",
];

/** @returns what a reader of this very report must know before she relies on it */
export function cautionsOf({ coverage, waiting }: MonthlyReport): string[] {
	const { period, figures, definitions } = coverage;
	const nameOf = (code: string) => definitions.find((definition) => definition.code === code)?.name ?? code;
	const few = figures.filter(({ denominator }) => denominator > 0 && denominator < FEW);
	const none = figures.filter(({ denominator }) => denominator === 0);
	const half = figures.filter(({ missing, denominator }) => missing > denominator);
	const named = (of: readonly { readonly indicator: string }[]) => of.map(({ indicator }) => nameOf(indicator)).join("; ");
	return [
		...(period.isPartial ? ["The month isn't over: later answers will change the figures."] : []),
		...(none.length > 0 ? [`Nothing was counted for: ${named(none)}. That isn't the same as 0 %.`] : []),
		...(few.length > 0 ? [`Fewer than ${FEW} were counted, so that the share says little: ${named(few)}.`] : []),
		...(half.length > 0 ? [`More is missing than was counted, and those who are missing may differ: ${named(half)}.`] : []),
		...(waiting.entries > 0 ? [`${count(waiting.entries)} entries of the ledger weren't sealed yet when this was made.`] : []),
	];
}
