import { valueWithin } from "./valid-range.js";

/** How cloudy water is, as a household can tell it. */
export type TurbidityClass = "clear" | "cloudy" | "veryTurbid";

/** A low, a middle and a high estimate. */
export interface ThreePoints {
	readonly low: number;
	readonly median: number;
	readonly high: number;
}

/** What a class of water is dosed with, and what is assumed of it until its own readings say better. */
export interface WaterClass {
	/** Dose of the household scheme, mg/L as Cl2. */
	readonly doseMgPerL: number;
	/** Hours that the scheme promises a residual for. */
	readonly useWithinHours: number;
	/** Residual at 1 h above which taste turns people away from the water, mg/L. */
	readonly tasteMgPerL: number;
	/** Demand of the first half hour, mg/L. */
	readonly demandMgPerL: ThreePoints;
	/** First-order decay constant at 25 °C, 1/h. */
	readonly kPerHour: ThreePoints;
}

/**
 * The household scheme's two classes. Doses, hours and taste limits: Lantagne 2008, J AWWA 100(8):106; Wilhelm et al. 2018, J Water
 * Health 16:112. Demand and decay are this project's defaults: decay ranges from memory; the upper demand is set so that, with the
 * upper decay at 25 °C, the scheme's dose still leaves 0.2 mg/L for as long as it promises, 24 h clear and 8 h cloudy.
 */
export const waterClasses: Readonly<Record<"clear" | "cloudy", WaterClass>> = {
	clear: {
		doseMgPerL: 1.875,
		useWithinHours: 24,
		tasteMgPerL: 2,
		demandMgPerL: { low: 0, median: 0.5, high: 1 },
		kPerHour: { low: 0.01, median: 0.03, high: 0.06 },
	},
	cloudy: {
		doseMgPerL: 3.75,
		useWithinHours: 8,
		tasteMgPerL: 4,
		demandMgPerL: { low: 0, median: 1.25, high: 2.5 },
		kPerHour: { low: 0.05, median: 0.1, high: 0.2 },
	},
};

/**
 * Class of a measured turbidity.
 *
 * @param turbidityNtu 0 to 4000 NTU
 * @returns "clear" under 10, "cloudy" to 100, "veryTurbid" above: that is settled, filtered or flocculated before any chlorine
 * @throws RangeError outside the range
 * Source: Lantagne 2008; Mohamed et al. 2015, J Water Health 13:544 (nothing reliable above 100 NTU, and only to 20 in its waters).
 */
export function turbidityClassOf(turbidityNtu: number): TurbidityClass {
	valueWithin("turbidity in NTU", turbidityNtu, 0, 4000);
	if (turbidityNtu < 10) return "clear";
	return turbidityNtu <= 100 ? "cloudy" : "veryTurbid";
}
