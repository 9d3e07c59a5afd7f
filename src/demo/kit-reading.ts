import { comparatorWholeSteps, type Dilution } from "../science/kits.js";
import { bandEdgesMgPerL, dilutionFactor, readingInterval } from "../science/reading.js";
import type { Randomness } from "../time/randomness.js";
import { around, happens } from "./draws.js";

/** The kit that the demo's volunteers use, by its name in the list of kits. */
export const DEMO_KIT = "comparator 0-5";
const KIT = comparatorWholeSteps;
const LAST_BAND = KIT.standardsMgPerL.length - 1;

/** Beside the kit's own misreadings: the wrong jar, the wrong syringe, a slip of the pen. Any colour comes of it. */
const SLIP_SHARE = 0.01;

/**
 * What a volunteer reads when she makes up so many mL of bleach and holds the tube beside the card.
 * @param strengthGPerL what is in the jar, g/L as Cl2
 * @returns the number of the colour as it is printed: mostly the nearest, now and then one beside it
 */
export function kitReading(draws: Randomness, strengthGPerL: number, dilution: Dilution): string {
	const shownMgPerL = around(draws, (strengthGPerL * 1000) / dilutionFactor(dilution), KIT.logSd);
	const measured = bandEdgesMgPerL(KIT).filter((edge) => edge <= shownMgPerL).length;
	const beside = happens(draws, KIT.misreadShare) ? (happens(draws, 0.5) ? 1 : -1) : 0;
	const band = happens(draws, SLIP_SHARE) ? draws.below(LAST_BAND + 1) : measured + beside;
	return String(KIT.standardsMgPerL[Math.max(0, Math.min(LAST_BAND, band))]);
}

/** @returns the strengths of the stock that a reading stands for, g/L as Cl2; no upper end for the last colour */
export function strengthBandOf(reading: string, dilution: Dilution): { lowGPerL: number; highGPerL: number | null } {
	const { lowGPerL, highGPerL } = readingInterval(KIT, dilution, Number(reading));
	return { lowGPerL, highGPerL: Number.isFinite(highGPerL) ? highGPerL : null };
}
