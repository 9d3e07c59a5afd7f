import { litAreaRangeM2, wallTransmittance } from "../science/photolysis.js";
import { strengthForLightGPerL } from "./places.js";
import type { BatchRow } from "./rows.js";

/** Volume, strength and lit area are each within their range, but not together: a tank that is lit through a pinhole. */
export function litAreaProblem(jar: Pick<BatchRow, "volumeL" | "madeStrengthGPerL" | "litAreaM2" | "wall">): string | undefined {
	const { volumeL, madeStrengthGPerL, litAreaM2, wall } = jar;
	if (litAreaM2 === 0 || wallTransmittance(wall) === 0) return undefined;
	const [least, most] = litAreaRangeM2(volumeL, strengthForLightGPerL(madeStrengthGPerL));
	if (litAreaM2 >= least && litAreaM2 <= most) return undefined;
	const range = `${rounded(least, Math.ceil)} to ${rounded(Math.min(10, most), Math.floor)}`;
	return `must be ${range} (square metres that light falls on) for ${volumeL} L of ${madeStrengthGPerL} g/L, or 0 where no light falls on it`;
}

/** Two digits that count, rounded to the inside of a range. */
function rounded(value: number, to: (value: number) => number): number {
	const unit = 10 ** (Math.floor(Math.log10(value)) - 1);
	return Number((to(value / unit) * unit).toPrecision(2));
}
