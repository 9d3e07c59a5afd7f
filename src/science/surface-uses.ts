import { type DilutionParts, dilutionParts, madeUpTo } from "./surface-dilution.js";
import { valueWithin } from "./valid-range.js";

/** Code of a caution; its words are in the language catalogues. */
export type SurfaceCaution =
	/** Mix with nothing else: acid, urine, ammonia, detergent make chlorine or chloramine gas. */
	| "neverMix"
	/** Dilute outdoors in the shade or in a ventilated room. */
	| "ventilate"
	/** Gloves, eye protection, apron, closed shoes, mask. */
	| "protect"
	/** Water first, then bleach. */
	| "waterFirst"
	/** Plastic only, no metal container or stirrer. */
	| "plasticOnly"
	/** Label with content, strength and hour; not for drinking. */
	| "label"
	/** Away from children, sun and fire. */
	| "keepAway"
	/** Eyes and skin: rinse 15 min; swallowed: no vomiting, seek care; breath: fresh air, care. */
	| "firstAid"
	/** Never spray people. */
	| "noSprayOnPeople"
	/** Clean with detergent and water first, rinse it off: dirt uses the chlorine up. */
	| "cleanFirst"
	/** Rinse stainless steel after the contact time. */
	| "rinseSteel";

/** What a use solution is for. */
export type SurfaceUse =
	| "utensils"
	| "laundry"
	| "homeSurfaces"
	| "touchedSurfaces"
	| "floorsAndLatrines"
	| "bodyFluids"
	| "medicalHazard"
	| "vomitAndStool";

/** A row of the use table. */
export interface UseRow {
	/** Strength at use, g/L as Cl2. */
	readonly wantGPerL: number;
	readonly contactMinutes: number;
	/** Ready bleach, not diluted further. */
	readonly undiluted: boolean;
	readonly source: string;
}

const row = (wantGPerL: number, contactMinutes: number, source: string, undiluted = false): UseRow =>
	Object.freeze({ wantGPerL, contactMinutes, undiluted, source });

/** Strength and contact time by use; why, where sources differ, is told in CHOICES.md beside this file. */
export const surfaceUses: Readonly<Record<SurfaceUse, UseRow>> = Object.freeze({
	utensils: row(0.5, 30, "0.05 %: GTFCC 2019 appendix 9; 30 min immersed: WHO 2014 infection prevention, annex G"),
	laundry: row(0.5, 15, "0.05 %, 15 min and no longer: MSF cholera guideline appendix 15"),
	homeSurfaces: row(0.5, 15, "10 parts of water to 1: common practice, no source, gives 0.45; 0.5 here. 15 min: MSF appendix 15"),
	touchedSurfaces: row(1, 10, "0.1 %: CDC 2021; at least 10 min: WHO 2014 annex G"),
	floorsAndLatrines: row(2, 15, "0.2 % in cholera structures: GTFCC 2019 appendix 9; 15 min: MSF appendix 15"),
	bodyFluids: row(5, 15, "0.5 %: Iqbal et al. 2016, introduction; 15 min: MSF appendix 15"),
	medicalHazard: row(4.5, 30, "undiluted, 30 minutes: common practice, no source; accepted bleach is 4.5 g/L or more", true),
	vomitAndStool: row(20, 15, "2 %: GTFCC 2019 appendix 9; home-made bleach never reaches it"),
});

/** Hours that a use solution made from bleach may be used. Source: Cox's Bazar WASH sector 2020; GTFCC, CDC: new every day. */
export const USE_SOLUTION_HOURS = 24;
/** From this strength gloves, goggles, apron and mask are asked for, g/L. Source: CDC, GTFCC. */
const PROTECT_FROM_G_PER_L = 2;

/** How to make and use a solution for a surface. */
export type SurfaceSolution =
	| {
			readonly kind: "solution";
			readonly bleachMl: number;
			readonly waterMl: number;
			readonly waterPerPart: number;
			/** Strength at use from the low, median and high strength of the bleach, g/L. */
			readonly strengthGPerL: { readonly low: number; readonly median: number; readonly high: number };
			readonly contactMinutes: number;
			readonly useWithinHours: number;
			readonly cautions: readonly SurfaceCaution[];
	  }
	| Extract<DilutionParts, { kind: "tooWeak" }>;

/**
 * Solution for a surface from today's bleach, made up to a final volume.
 *
 * @param wanted `use`; `strength` low, median and high of the bleach, 0.01 to 200 g/L; `finalVolumeL` 0.05 to 1000 L
 * @returns volumes, contact time, hours of use and cautions, reckoned from the low strength so that the solution isn't weaker than
 *   the use asks; or "tooWeak"
 * @throws RangeError outside these ranges
 * Caution: local infection-control rules and trained staff come first. Source: the use table's rows.
 */
export function surfaceSolution(wanted: {
	readonly use: SurfaceUse;
	readonly strength: { readonly lowGPerL: number; readonly medianGPerL: number; readonly highGPerL: number };
	readonly finalVolumeL: number;
}): SurfaceSolution {
	const { wantGPerL, contactMinutes, undiluted } = surfaceUses[wanted.use];
	const haveGPerL = wanted.strength.lowGPerL;
	valueWithin("median strength in g/L", wanted.strength.medianGPerL, haveGPerL, 200);
	valueWithin("high strength in g/L", wanted.strength.highGPerL, wanted.strength.medianGPerL, 200);
	const parts = dilutionParts({ haveGPerL, wantGPerL });
	if (parts.kind === "tooWeak") return parts;
	const made = madeUpTo({ haveGPerL, wantGPerL: undiluted ? haveGPerL : wantGPerL, finalVolumeL: wanted.finalVolumeL });
	if (made.kind === "tooWeak") return made;
	const share = made.bleachMl / (made.bleachMl + made.waterMl);
	const strengthGPerL = {
		low: haveGPerL * share,
		median: wanted.strength.medianGPerL * share,
		high: wanted.strength.highGPerL * share,
	};
	return {
		kind: "solution",
		bleachMl: made.bleachMl,
		waterMl: made.waterMl,
		waterPerPart: made.waterMl / made.bleachMl,
		strengthGPerL,
		contactMinutes,
		useWithinHours: USE_SOLUTION_HOURS,
		cautions: cautionsFor(wanted.use, Math.max(wantGPerL, strengthGPerL.high)),
	};
}

function cautionsFor(use: SurfaceUse, gPerL: number): SurfaceCaution[] {
	const always: SurfaceCaution[] = [
		"cleanFirst",
		"neverMix",
		"ventilate",
		"waterFirst",
		"plasticOnly",
		"label",
		"keepAway",
		"firstAid",
	];
	if (gPerL >= PROTECT_FROM_G_PER_L) always.push("protect");
	if (use !== "laundry") always.push("rinseSteel");
	always.push("noSprayOnPeople");
	return always;
}
