import { numberOf, textAs } from "../option-values.js";

/** A test of a jar as it is described on the command line. */
export interface DescribedTest {
	/** As it was given. */
	readonly text: string;
	/** Days from the making. */
	readonly day: number;
	/** A number, with a `+` behind it for "this or more"; whether it is on the kit's scale is not looked at here. */
	readonly reading: string;
	readonly sampleMl: number;
	readonly madeUpToL: number;
}

const TEST = /^day\s+(\S+)\s*:\s*(\d+(?:\.\d+)?\+?)\s+at\s+(\S+)\s*mL\s+in\s+(\S+)\s*L$/iu;

/** `day 4: 2 at 1 mL in 2 L`: read 2 mg/L in 1 mL of bleach that was made up with water to 2 L. */
export const testText = textAs<DescribedTest>(
	'such as "day 4: 2 at 1 mL in 2 L": day 0 to 365, the reading, 0.05 to 100 mL made up to 0.05 to 20 L, at least the sample',
	(text) => {
		const [, day = "", reading = "", sample = "", water = ""] = TEST.exec(text) ?? [];
		const at = numberOf(day, 0, 365);
		const sampleMl = numberOf(sample, 0.05, 100);
		const madeUpToL = numberOf(water, 0.05, 20);
		if (at === undefined || sampleMl === undefined || madeUpToL === undefined || madeUpToL * 1000 < sampleMl) return undefined;
		return { text, day: at, reading, sampleMl, madeUpToL };
	},
);
