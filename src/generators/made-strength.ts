import type { GeneratorRules } from "../programme/generator-rules.js";
import { strengthMadeGPerL } from "../science/faraday.js";
import { MINUTE_MS } from "../time/clock.js";
import type { GeneratorRow } from "./rows.js";

/** A strength with the standard deviation of its logarithm. */
export interface BelievedStrength {
	/** g/L as Cl2. */
	readonly strengthGPerL: number;
	readonly lnSd: number;
}

/** What of a finished run tells its strength. */
export interface FinishedRunFigures {
	readonly startedAtMs: number;
	readonly endedAtMs: number;
	/** Null: nobody read it, the rated one is taken and trusted less. */
	readonly currentA: number | null;
	/** False: no bubbles were seen, so nobody can say what current flowed. */
	readonly gasSeen: boolean | null;
	readonly volumeL: number;
}

/**
 * Strength that a run's record lets expect, by Faraday's law and the generator's own efficiency.
 * @returns g/L as Cl2, not rounded, with its uncertainty by the programme's rules
 */
export function strengthByRecord(
	run: FinishedRunFigures,
	generator: Pick<GeneratorRow, "ratedCurrentA" | "cellsInSeries" | "currentEfficiency">,
	{ currentRead, currentNotRead }: GeneratorRules["madeStrengthLnSd"],
): BelievedStrength {
	const strengthGPerL = strengthMadeGPerL({
		currentA: run.currentA ?? generator.ratedCurrentA,
		runMinutes: (run.endedAtMs - run.startedAtMs) / MINUTE_MS,
		volumeL: run.volumeL,
		cellsInSeries: generator.cellsInSeries,
		currentEfficiency: generator.currentEfficiency,
	});
	return { strengthGPerL, lnSd: run.currentA === null || run.gasSeen === false ? currentNotRead : currentRead };
}

/**
 * What a batch holds after further minutes.
 * @param before what was believed of it until then
 * @param added what the further minutes add, g/L over the same volume
 * @returns the sum; its spread from both, as independent as they are
 */
export function strengthAfterFurther(before: BelievedStrength, added: BelievedStrength): BelievedStrength {
	const strengthGPerL = before.strengthGPerL + added.strengthGPerL;
	const sd = Math.hypot(before.strengthGPerL * before.lnSd, added.strengthGPerL * added.lnSd);
	return { strengthGPerL, lnSd: Math.max(LEAST_LN_SD, sd / strengthGPerL) };
}

/** A batch is never known better than this by its record. Source: as the least of the strength model's priors. */
const LEAST_LN_SD = 0.12;
