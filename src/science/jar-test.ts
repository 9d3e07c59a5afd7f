import { type PHClass, residualAfterContactMgPerL, SHORTEST_CONTACT_MINUTES } from "./contact-time.js";
import { valueWithin } from "./valid-range.js";

/** One container of a jar test. */
export interface JarReading {
	/** mg/L as Cl2, 0.05 to 20. */
	readonly doseMgPerL: number;
	/** Free residual after the wait, mg/L, 0 to 20. */
	readonly residualMgPerL: number;
}

/** Demand as the jars bracket it, mg/L: what went missing where some chlorine was left. */
export interface JarDemand {
	readonly low: number;
	readonly high: number;
}

/** What a jar test says. */
export type JarTestResult =
	| {
			readonly kind: "chosen";
			/** Container, counted from 1 in rising order of dose. */
			readonly container: number;
			readonly doseMgPerL: number;
			/** Dose on the line between the two containers around the target; null when a container reads the target itself. */
			readonly estimatedDoseMgPerL: number | null;
			readonly targetMgPerL: number;
			readonly demandMgPerL: JarDemand;
	  }
	| {
			readonly kind: "repeatHigher";
			/** Doses to set up next, mg/L, on from the last one in the same steps. */
			readonly nextDosesMgPerL: readonly number[];
			readonly targetMgPerL: number;
	  }
	/** The residual fell while the dose rose: a mix-up of containers, or breakpoint with ammonia. */
	| { readonly kind: "repeat"; readonly reason: "residualFalls"; readonly container: number }
	| { readonly kind: "refused"; readonly reason: "tooTurbid" };

/** Above this the water is settled or filtered before a jar test for bulk dosing, NTU. */
const JAR_TEST_NTU = 5;
const SAME = 1e-9;

/** Minutes to wait before the jars are read: 30, or 60 at pH 8 and above. Source: MSF cholera guideline appendix 16. */
export const jarTestMinutes = (pHClass: PHClass): number => SHORTEST_CONTACT_MINUTES * (pHClass === "aboveEight" ? 2 : 1);

function demandOf(jars: readonly JarReading[]): JarDemand {
	const missing = jars
		.filter(({ residualMgPerL }) => residualMgPerL > 0)
		.map((jar) => Math.max(0, jar.doseMgPerL - jar.residualMgPerL));
	return { low: Math.min(...missing), high: Math.max(...missing) };
}

/**
 * Dose and demand from a series of containers with rising doses.
 *
 * @param test `jars` 3 to 8 different doses in any order; `pHClass`; `turbidityNtu` if measured, 0 to 4000 NTU
 * @returns the container at the target (0.5 mg/L, or 1.0 at pH 8 and above), else the next higher with an estimate on the line
 *   between; or a higher series; or to repeat; or that the water is treated first above 5 NTU
 * @throws RangeError outside these ranges, or for two containers of the same dose
 * Check the residual again after the contact time before water is given out. Source: MSF cholera guideline appendix 16.
 */
export function jarTestResult(test: {
	readonly jars: readonly JarReading[];
	readonly pHClass: PHClass;
	readonly turbidityNtu?: number;
}): JarTestResult {
	if (valueWithin("turbidity in NTU", test.turbidityNtu ?? 0, 0, 4000) > JAR_TEST_NTU) {
		return { kind: "refused", reason: "tooTurbid" };
	}
	valueWithin("containers", test.jars.length, 3, 8);
	const jars = [...test.jars].sort((a, b) => a.doseMgPerL - b.doseMgPerL);
	for (const [i, jar] of jars.entries()) {
		valueWithin("dose in mg/L", jar.doseMgPerL, 0.05, 20);
		valueWithin("residual in mg/L", jar.residualMgPerL, 0, 20);
		if (jar.doseMgPerL === jars[i + 1]?.doseMgPerL) {
			throw new RangeError(`doses must differ between containers, got ${jar.doseMgPerL} mg/L twice`);
		}
	}
	const falls = jars.findIndex((jar, i) => i > 0 && jar.residualMgPerL < jars[i - 1]!.residualMgPerL - SAME);
	if (falls !== -1) return { kind: "repeat", reason: "residualFalls", container: falls + 1 };

	const targetMgPerL = residualAfterContactMgPerL(test.pHClass);
	const at = jars.findIndex(({ residualMgPerL }) => residualMgPerL >= targetMgPerL - SAME);
	if (at === -1) {
		const last = jars.at(-1)!.doseMgPerL;
		const step = last - jars.at(-2)!.doseMgPerL;
		return { kind: "repeatHigher", nextDosesMgPerL: [0, 1, 2, 3].map((n) => last + n * step), targetMgPerL };
	}
	return {
		kind: "chosen",
		container: at + 1,
		doseMgPerL: jars[at]!.doseMgPerL,
		estimatedDoseMgPerL: estimatedDose(jars[at - 1], jars[at]!, targetMgPerL),
		targetMgPerL,
		demandMgPerL: demandOf(jars),
	};
}

function estimatedDose(under: JarReading | undefined, over: JarReading, targetMgPerL: number): number | null {
	if (!under || Math.abs(over.residualMgPerL - targetMgPerL) <= SAME) return null;
	const share = (targetMgPerL - under.residualMgPerL) / (over.residualMgPerL - under.residualMgPerL);
	return under.doseMgPerL + share * (over.doseMgPerL - under.doseMgPerL);
}
