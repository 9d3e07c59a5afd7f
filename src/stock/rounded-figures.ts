import { rounded } from "../science/rounded.js";
import type { Forecast } from "./forecast.js";

/** What the ledger and texts tell of a forecast, g/L to one decimal. */
export function roundedFigures({ now }: Pick<Forecast, "now">): { strengthGPerL: number; lowGPerL: number; highGPerL: number } {
	return { strengthGPerL: rounded(now.medianGPerL, 1), lowGPerL: rounded(now.lowGPerL, 1), highGPerL: rounded(now.highGPerL, 1) };
}
