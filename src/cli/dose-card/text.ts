import type { DoseWarning } from "../../science/dose-answer.js";
import type { Measure, MeasuredVolume } from "../../science/measures.js";
import { flagOf } from "../options.js";
import { tableLines } from "../table.js";
import { type DoseCard, isDose, type WaterRow } from "./card.js";
import type { doseCardOptions } from "./options.js";
import { surfaceLines } from "./surface-text.js";

/** @returns the card as it can be printed and put on the wall */
export function doseCardText(card: DoseCard): string {
	const { lowGPerL, medianGPerL, highGPerL } = card.strength;
	const star = (name: keyof typeof doseCardOptions) => (card.assumedOptions.includes(flagOf(name)) ? "*" : "");
	return [
		`DOSE CARD for bleach of ${medianGPerL} g/L (${lowGPerL}${star("low")} to ${highGPerL}${star("high")}), made at ${card.madeStrengthGPerL}${star("madeStrength")}`,
		`water at ${card.waterTemperatureC} °C${star("waterC")}, pH ${card.waterPHClass === "above8" ? "8 or more" : "below 8"}${star("phClass")}; ` +
			`no bleach under ${card.usableLimitGPerL} g/L${star("limit")} (* assumed, because it wasn't given)`,
		"",
		...tableLines(HEADINGS, [
			...card.water.map(waterCells),
			["any", "over 100 NTU", "-", "settle, filter or flocculate it first"],
		]),
		"",
		"Dose, residuals (expected, and from worst to best) and chlorate are mg/L. Bleach into the full container, stir, cover, wait, then drink.",
		// The hand stands in for a meter: common practice, no source.
		"Cloudy water: let it settle, filter it through cloth first. Water in which a hand at elbow depth can't be seen gets no bleach.",
		...(card.testFirst && card.water.some(({ answer }) => isDose(answer))
			? [`Test the bleach: there is more than 1 chance in 20 that it is under ${card.usableLimitGPerL} g/L.`]
			: []),
		...warningLines(card.water),
		"",
		...surfaceLines(card),
		"",
		...CAUTIONS,
		"",
	].join("\n");
}

const HEADINGS = ["water", "", "bleach", "measured as", "dose", "after the wait", "at the end", "use within", "wait", "chlorate"];

function waterCells({ waterVolumeL, water, answer }: WaterRow): string[] {
	const to = [`${waterVolumeL} L`, water];
	if (!isDose(answer)) return [...to, "-", WHY_NOT[answer.reason]];
	const { residualAfterContactMgPerL: after, residualAtUseEndMgPerL: end } = answer;
	const points = (of: { low: number; median: number; high: number }) =>
		`${of.median.toFixed(1)} (${of.low.toFixed(1)}-${of.high.toFixed(1)})`;
	return [
		...to,
		`${answer.volumeMl} mL`,
		measuredAs(answer.measured, answer.measure),
		answer.doseMgPerL.median.toFixed(2),
		points(after),
		points(end),
		`${answer.useWithinHours} h`,
		`${answer.contactMinutes} min`,
		answer.chlorateMgPerL === null ? "-" : answer.chlorateMgPerL.toFixed(2),
	];
}

const WHY_NOT: Readonly<Record<Exclude<WaterRow["answer"], { kind: "dose" }>["reason"], string>> = {
	strengthTooUncertain: "test the bleach first: no volume is right for both ends",
	tooTurbid: "too cloudy: settle, filter or flocculate it first",
	readingContradicts: "test the bleach again first: the last reading didn't fit",
	tooWeak: "too weak: make new bleach",
	underLimit: "too weak for drinking water: make new bleach",
	demandTooUncertain: "do a jar test of the water first",
	measureTooCoarse: "take a finer measure",
};

function measuredAs({ units, fills, lastFillMl }: MeasuredVolume, measure: Measure): string {
	if (measure.kind !== "syringe") return `${units} ${measure.kind}${units === 1 ? "" : "s"}`;
	return fills === 1 ? `to ${lastFillMl} mL` : `${fills - 1} full + ${lastFillMl} mL`;
}

const WARNINGS: Readonly<Record<DoseWarning, string>> = {
	doseRaised: "More than the usual dose, for the weak end",
	doseLowered: "Less than the usual dose, for the strong end",
	mayTasteStrong: "May taste strong",
	mayNotLast: "May fall under 0.2 mg/L before the time is over: check the residual",
	chlorateAboveGuideline: "Chlorate above the guideline value: fresher bleach is better, but disinfect all the same",
	manyFills: "Easily miscounted: take a larger measure",
};

/** Each warning once, with the rows that it holds for. */
function warningLines(water: readonly WaterRow[]): string[] {
	return (Object.keys(WARNINGS) as DoseWarning[]).flatMap((warning) => {
		const rows = water.filter(({ answer }) => isDose(answer) && answer.warnings.includes(warning));
		const named = rows.length === water.length ? "all" : rows.map((row) => `${row.waterVolumeL} L ${row.water}`).join(", ");
		return rows.length === 0 ? [] : [`${WARNINGS[warning]}: ${named}.`];
	});
}

const CAUTIONS = [
	"Outdoors in the shade or in moving air; plastic only. Label it; away from children, animals and sun; never in a drinking bottle.",
	"Never mix with acid, vinegar, urine, ammonia, soap or another cleaner: poisonous gas. Never spray people.",
	"In the eyes or on the skin: rinse 15 minutes. Swallowed: no vomiting. Breathed in: fresh air. Seek care.",
	"Chlorine leaves Cryptosporidium alive and takes out no chemical pollution. Rinse the measure three times.",
	"What the local health authority and licensed practice prescribe comes first.",
];
