import { type SurfaceUse, surfaceUses, USE_SOLUTION_HOURS } from "../../science/surface-uses.js";
import { tableLines } from "../table.js";
import type { DoseCard, SurfaceRow } from "./card.js";

/** @returns the part of the card that is for surfaces, made up from the weak end of the strength */
export function surfaceLines({ surfaces, bucketL, strength }: DoseCard): string[] {
	return [
		`SURFACES, made up to ${bucketL} L, water first; new after ${USE_SOLUTION_HOURS} hours`,
		"",
		...tableLines(
			["for", "strength", "parts", "bleach", "water", "leave wet"],
			surfaces.map((row) => cells(row, strength.lowGPerL)),
		),
		"",
		"Strength: from the weak to the strong end. Parts: of water to one of bleach. Clean with detergent and rinse it off first.",
		"Gloves, eye protection, apron, closed shoes and mask from 0.2 %, so for the bleach itself. Rinse steel afterwards.",
	];
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

function cells({ use, wantGPerL, solution }: SurfaceRow, lowGPerL: number): string[] {
	if (solution.kind !== "solution")
		return [
			USES[use],
			`${percent(wantGPerL)} %`,
			"-",
			`this bleach is too weak for it: ${lowGPerL} g/L at its weak end, ${wantGPerL} needed`,
		];
	const { strengthGPerL, waterPerPart, bleachMl, waterMl, contactMinutes } = solution;
	return [
		USES[use],
		`${percent(strengthGPerL.low)}-${percent(strengthGPerL.high)} %`,
		// Rounded down, so that it isn't weaker than it says.
		surfaceUses[use].undiluted ? "undiluted" : (Math.floor(waterPerPart * 10) / 10).toFixed(1),
		`${Math.ceil(bleachMl)} mL`,
		`${Math.floor(waterMl)} mL`,
		`${contactMinutes} min`,
	];
}

const percent = (gPerL: number): string => (gPerL / 10).toFixed(2);
