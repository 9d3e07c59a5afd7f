import type { Measure, MeasuredVolume } from "../../science/measures.js";
import { type SurfaceUse, USE_SOLUTION_HOURS } from "../../science/surface-uses.js";
import { tableLines } from "../table.js";
import { BUCKET_L, type DoseCard, isDose, type SurfaceRow, type WaterRow } from "./card.js";

/** @returns the card as it can be printed and put on the wall */
export function doseCardText(card: DoseCard): string {
	const { asked } = card;
	const interval =
		asked.low === undefined && asked.high === undefined
			? ""
			: ` (${asked.low ?? asked.strength} to ${asked.high ?? asked.strength})`;
	const firstDose = card.water.map(({ answer }) => answer).find(isDose);
	return [
		`DOSE CARD for bleach of ${asked.strength} g/L${interval}, water at ${asked.waterC} °C${asked.phClass === "above8" ? ", pH above 8" : ""}`,
		"",
		...tableLines(
			["water", "", "bleach", "measured as", "dose", "after contact", "at the end", "use within", "wait"],
			card.water.map(waterCells),
		),
		"",
		`Bleach into the full container, stir, cover, wait${firstDose ? ` ${Math.ceil(firstDose.contactMinutes)} minutes` : ""} before anybody drinks. Doses and residuals are mg/L of free chlorine.`,
		"Cloudy water: let it settle, filter it through cloth first. Water in which a hand at elbow depth can't be seen gets no bleach.",
		"",
		`SURFACES, made up to ${BUCKET_L} L; new every day`,
		"",
		...tableLines(["for", "strength", "bleach", "water", "leave wet"], card.surfaces.map(surfaceCells)),
		"",
		...CAUTIONS,
		"",
	].join("\n");
}

function waterCells({ waterVolumeL, water, answer }: WaterRow): string[] {
	const to = [`${waterVolumeL} L`, water];
	if (!isDose(answer)) return [...to, "-", WHY_NOT[answer.reason], "", "", "", "", ""];
	const { doseMgPerL, residualAfterContactMgPerL: after, residualAtUseEndMgPerL: end } = answer;
	return [
		...to,
		`${answer.volumeMl} mL`,
		measuredAs(answer.measured, answer.measure),
		doseMgPerL.median.toFixed(2),
		`${after.low.toFixed(1)}-${after.high.toFixed(1)}`,
		`${end.low.toFixed(1)}-${end.high.toFixed(1)}`,
		`${answer.useWithinHours} h`,
		`${Math.ceil(answer.contactMinutes)} min`,
	];
}

const WHY_NOT = {
	strengthTooUncertain: "test the bleach first",
	tooTurbid: "too cloudy: settle, filter first",
	tooWeak: "too weak: make new bleach",
	demandTooUncertain: "jar test first",
	measureTooCoarse: "take a finer measure",
} as const;

function measuredAs({ units, fills, lastFillMl }: MeasuredVolume, measure: Measure): string {
	if (measure.kind !== "syringe") return `${units} ${measure.kind}${units === 1 ? "" : "s"}`;
	if (fills === 1) return `syringe to ${lastFillMl}`;
	return `${fills - 1} full + ${lastFillMl}`;
}

const USES: Readonly<Record<SurfaceUse, string>> = {
	utensils: "dishes, utensils",
	laundry: "laundry",
	homeSurfaces: "surfaces at home",
	touchedSurfaces: "what many hands touch",
	floorsAndLatrines: "floors, latrines",
	bodyFluids: "body fluids",
	medicalHazard: "medical hazards",
	vomitAndStool: "vomit, stool (cholera)",
};

function surfaceCells({ use, solution }: SurfaceRow): string[] {
	if (solution.kind !== "solution") return [USES[use], "-", "-", "-", "this bleach is too weak for it"];
	return [
		USES[use],
		`${(solution.strengthGPerL.median / 10).toFixed(2)} %`,
		`${Math.round(solution.bleachMl)} mL`,
		`${(solution.waterMl / 1000).toFixed(2)} L`,
		`${solution.contactMinutes} min`,
	];
}

const CAUTIONS = [
	"Gloves and glasses; moving air; plastic only. Water first, then bleach.",
	"Never mix with acid, vinegar, urine, ammonia, soap or another cleaner: poisonous gas.",
	`Label it. Away from children, animals and sun. Never in a drinking bottle. Use solutions last ${USE_SOLUTION_HOURS} h. Rinse the syringe three times.`,
	"In the eyes or on the skin: rinse 15 minutes. Swallowed: no vomiting, seek care. What the local health authority prescribes comes first.",
];
