import { type ChosenConstants, defaultConstants } from "./constants.js";
import { heatRatesAt, STORABLE_MAX_PH, STORABLE_MIN_PH } from "./decay.js";
import { DAVIES_END_MOL_PER_L, DAVIES_LIMIT_MOL_PER_L, ionicStrengthOfBrineMolPerL } from "./ionic-strength.js";
import { hoclFractionAt, mixedPka } from "./pka.js";
import { rateRatioTo25C } from "./rate-constants.js";
import type { Solution } from "./strength-curve.js";
import { molPerLOfStrength } from "./units.js";
import { valueWithin } from "./valid-range.js";

/** Where the water of a run came from. */
export type WaterSource = "treated" | "rain" | "groundwater" | "surface";

/** What a reader must know about a forecast that starts from this solution. */
export type SolutionNote =
	/** The loss rate is the default for an unmeasured pH. */
	| "pHNotMeasured"
	/** The temperature of the pH reading was not given; 25 °C was taken. */
	| "pHTemperatureTakenAs25C"
	/** pH 7 to 8.4: it loses strength within hours to days; use it at once, don't store it. */
	| "tooAcidToStore"
	/** Ionic strength above 0.5 mol/L: the activity correction is extrapolated. */
	| "activityCorrectionExtrapolated"
	/** Ionic strength above 1 mol/L: the correction of 1 mol/L is taken, which is the smaller one and errs to a faster loss. */
	| "activityCorrectionEnded"
	/** Strength outside 2 to 10 g/L: the rates are extrapolated. */
	| "strengthOutsideModel"
	/** Ground and surface water can carry iron, copper, nickel or cobalt, which speed up the loss. */
	| "metalsPossible";

/** What is known of a batch when it is made. */
export interface MadeBatch {
	/** 0.5 to 15 g/L as Cl2. */
	readonly strengthGPerL: number;
	/** 7 to 13, if measured. */
	readonly pH?: number | undefined;
	/** Temperature of the pH reading, 0 to 40 °C; 25 °C if left out. */
	readonly pHMeasuredAtC?: number | undefined;
	/** Salt of the brine, 0 to 350 g/L of water. */
	readonly saltGPerL: number;
	readonly waterSource?: WaterSource | undefined;
}

/** How the pH of a batch is known, or how well the site's own batches are. */
export type PHKnowledge = "unknown" | "strip" | "meter" | "siteHistory";

/** Hottest steady temperature for which the alkaline path is covered in full by the reduced form, °C. */
const COVERED_C = 45;

/**
 * Loss of OCl- at 25 °C that covers both paths in first order.
 *
 * The alkaline path slows down as it goes and has a steeper temperature dependence; it is put in with its first rate, and as large
 * as it must be at 45 °C, so that the reduced form never promises more than the two-path form from 5 to 45 °C.
 */
function coveringLossRateAt25C(hocl: number, hypochlorite: number, mu: number, constants: ChosenConstants): number {
	const acid = heatRatesAt(hocl, 25, mu, 1, constants).acidPerDay;
	const alkaline = heatRatesAt(hocl, COVERED_C, mu, 1, constants).alkalinePerMPerDay / rateRatioTo25C(COVERED_C);
	return acid + alkaline * hypochlorite;
}

/**
 * The solution that a run made, as the strength curve needs it.
 *
 * With a pH of 8.4 or more: kap = factor·k3(25 °C)·h², plus the alkaline path. With pH 7 to 8.4 all of it, HOCl too, is lost in
 * first order at the rate it starts with. Without a pH: 0.010 1/day at 5 g/L, times (S0/5)².
 *
 * @param batch strength, pH, salt and water of the run
 * @param constants the uncertain constants
 * @returns reference strength, HOCl share, loss rate at 25 °C, and notes (empty when nothing needs saying)
 * @throws RangeError for a strength outside 0.5 to 15 g/L, a pH outside 7 to 13 (more acid gives off chlorine gas: check the
 * reading, never add acid), a pH temperature outside 0 to 40 °C or a brine outside 0 to 350 g/L
 *
 * Source: see decay.ts; default without pH: chosen near the pH 9 value 0.0094, after Iqbal et al. 2016, PLoS ONE 11:e0156136.
 */
export function solutionFromRun(
	batch: MadeBatch,
	constants: ChosenConstants = defaultConstants,
): Solution & { readonly notes: readonly SolutionNote[] } {
	const strength = valueWithin("strength in g/L", batch.strengthGPerL, 0.5, 15, "measure it again");
	const mu = ionicStrengthOfBrineMolPerL(batch.saltGPerL, 1);
	const notes: SolutionNote[] = [];
	if (strength < 2 || strength > 10) notes.push("strengthOutsideModel");
	if (batch.waterSource === "groundwater" || batch.waterSource === "surface") notes.push("metalsPossible");
	if (batch.pH === undefined) {
		notes.push("pHNotMeasured");
		const lossRateAt25CPerDay = constants.lossRatePHUnknownPerDay * (strength / 5) ** 2;
		return { initialStrengthGPerL: strength, hoclFraction: constants.hoclFractionPHUnknown, lossRateAt25CPerDay, notes };
	}
	const pH = valueWithin("pH", batch.pH, 7, STORABLE_MAX_PH, "check the reading; never add acid to bleach");
	if (batch.pHMeasuredAtC === undefined) notes.push("pHTemperatureTakenAs25C");
	if (mu > DAVIES_END_MOL_PER_L) notes.push("activityCorrectionEnded");
	else if (mu > DAVIES_LIMIT_MOL_PER_L) notes.push("activityCorrectionExtrapolated");
	const acidShare = hoclFractionAt(pH, mixedPka(batch.pHMeasuredAtC ?? 25, Math.min(mu, DAVIES_END_MOL_PER_L), constants));
	const total = molPerLOfStrength(strength);
	const lossRate = coveringLossRateAt25C(total * acidShare, total * (1 - acidShare), mu, constants);
	if (pH >= STORABLE_MIN_PH) {
		return { initialStrengthGPerL: strength, hoclFraction: acidShare, lossRateAt25CPerDay: lossRate, notes };
	}
	notes.push("tooAcidToStore");
	return { initialStrengthGPerL: strength, hoclFraction: 0, lossRateAt25CPerDay: lossRate * (1 - acidShare), notes };
}

const lnSdConstants: Record<PHKnowledge, keyof ChosenConstants> = {
	unknown: "lnRateSdPHUnknown",
	strip: "lnRateSdPHStrip",
	meter: "lnRateSdPHMeter",
	siteHistory: "lnRateSdSiteHistory",
};

/**
 * How uncertain a batch's rate multiplier m is before its first test.
 *
 * @param pHKnowledge how the pH was measured; "siteHistory" for a site with three or more tested batches
 * @param constants the uncertain constants
 * @returns standard deviation of ln m: 1.6 unknown, 1.25 strip, 0.9 meter, 0.8 site history
 *
 * Source: own choice: 0.8 for the rate constants, combined with 4.5 times the uncertainty of the pH (prior 9.1 ± 0.3, strip
 * ± 0.3, meter ± 0.1), the slope of ln(rate) in pH near 9.
 */
export function rateMultiplierLnSd(pHKnowledge: PHKnowledge, constants: ChosenConstants = defaultConstants): number {
	return constants[lnSdConstants[pHKnowledge]];
}
