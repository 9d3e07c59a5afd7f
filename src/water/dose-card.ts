import type { Policy } from "../programme/policy.js";
import type { Turbidity } from "../programme/rows.js";
import { chlorateInStockMgPerL } from "../science/chlorate.js";
import { climateOfDay, type MonthlyClimate } from "../science/climate.js";
import { type DoseAnswer, doseFor } from "../science/dose.js";
import type { TurbidityClass } from "../science/water-classes.js";
import type { StrengthFigures } from "../stock/forecast.js";
import { DAY_MS } from "../time/clock.js";
import type { ProtocolDoseAnswer } from "./protocol-dose.js";

/** A size and class of water that a volunteer's households have. */
export interface ContainerClass {
	readonly volumeL: number;
	readonly turbidity: Turbidity;
}

export interface DoseCardLine extends ContainerClass {
	readonly answer: ProtocolDoseAnswer;
}

const TURBIDITY: Readonly<Record<Turbidity, TurbidityClass>> = { clear: "clear", cloudy: "cloudy", "very turbid": "veryTurbid" };

/**
 * Today's dose from one jar for one container of water.
 * @param strength what is believed of the jar now
 * @param madeStrengthGPerL strength as made, for the chlorate that has formed since
 * @param climate of the area; the water is taken to be as warm as the day's mean
 * @param dayOfYear 1 to 366
 */
export function todaysDose(
	strength: StrengthFigures,
	madeStrengthGPerL: number,
	water: ContainerClass,
	climate: readonly MonthlyClimate[],
	dayOfYear: number,
	policy: Policy,
): DoseAnswer {
	const { dayMeanC, nightMeanC } = climateOfDay(climate, dayOfYear);
	const targets =
		water.turbidity === "clear" ? { doseMgPerL: policy.doseMgPerL.clear } : { doseMgPerL: policy.doseMgPerL.cloudy };
	return doseFor({
		strength: { lowGPerL: strength.lowGPerL, medianGPerL: strength.medianGPerL, highGPerL: strength.highGPerL },
		waterVolumeL: water.volumeL,
		turbidity: TURBIDITY[water.turbidity],
		waterTemperatureC: Math.min(45, Math.max(0, (dayMeanC + nightMeanC) / 2)),
		targets,
		measure: policy.measure,
		chlorateInStockMgPerL: chlorateInStockMgPerL(madeStrengthGPerL, Math.max(0.001, strength.medianGPerL)),
	});
}

/**
 * One short line for a text message, the same in every language: "20 L 8/16 mL, 10 L 4/8 mL", clear water before the stroke and
 * cloudy water behind it; a dash where there is no dose for it.
 * @returns undefined where no clear water gets a dose: the jar has to be tested first
 */
export function doseLine(lines: readonly DoseCardLine[]): string | undefined {
	const volumes = [...new Set(lines.map(({ volumeL }) => volumeL))];
	const shown = (volumeL: number, turbidity: Turbidity): string => {
		const answer = lines.find((line) => line.volumeL === volumeL && line.turbidity === turbidity)?.answer;
		return answer?.kind === "dose" || answer?.kind === "doseThenCheck" ? String(answer.volumeMl) : "-";
	};
	const parts = volumes.map((volumeL) => ({ volumeL, clear: shown(volumeL, "clear"), cloudy: shown(volumeL, "cloudy") }));
	if (parts.every(({ clear }) => clear === "-")) return undefined;
	return parts.map(({ volumeL, clear, cloudy }) => `${volumeL} L ${clear}/${cloudy} mL`).join(", ");
}

/** @returns 1 to 366, by UTC: the climate of a day changes too slowly for zones to matter */
export function dayOfYear(atMs: number): number {
	const year = new Date(atMs).getUTCFullYear();
	return Math.floor((atMs - Date.UTC(year, 0, 1)) / DAY_MS) + 1;
}
