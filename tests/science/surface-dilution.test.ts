import { describe, expect, it } from "@jest/globals";
import fc from "fast-check";
import { dilutionParts, madeUpTo, powderGPerL, strengthAddedTo, strengthMadeUpTo } from "../../src/science/surface-dilution.js";
import { type SurfaceUse, surfaceSolution, surfaceUses } from "../../src/science/surface-uses.js";
import published from "../published/dose.json" with { type: "json" };
import { expectNear } from "./near.js";

const { surfaces } = published;
const gPerL = (percent: number) => percent * 10;

describe("dilution", () => {
	// Sources: CDC appendix E (D1 to D3, D9 published), WHO 2014 annex G (D10); the rest computed independently.
	it.each(surfaces.parts)("$name: $value parts of water from $havePercent to $wantPercent %", (check) => {
		const parts = dilutionParts({ haveGPerL: gPerL(check.havePercent), wantGPerL: gPerL(check.wantPercent) });
		if (parts.kind !== "parts") throw new Error(parts.kind);
		expectNear(parts.waterPerPart, check.value, surfaces.tolerance);
	});
	it("D3: 14.3 g of 35 % powder for a litre of 0.5 %", () => {
		const { availablePercent, wantPercent, gPerL: published, tolerance } = surfaces.powder;
		expectNear(powderGPerL({ wantGPerL: gPerL(wantPercent), availablePercent }), published, tolerance);
	});
	it("D8: says too weak, by 1 g/L, from 0.4 to 0.5 %", () => {
		const { havePercent, wantPercent } = surfaces.tooWeak;
		const parts = dilutionParts({ haveGPerL: gPerL(havePercent), wantGPerL: gPerL(wantPercent) });
		expect(parts.kind).toBe("tooWeak");
		expectNear(parts.kind === "tooWeak" ? parts.missingGPerL : null, 1, 1e-9);
		expect(madeUpTo({ haveGPerL: 4, wantGPerL: 5, finalVolumeL: 1 }).kind).toBe("tooWeak");
	});
	it("D9: 400 mL of 5 % made up to 20 L is 0.1 %", () => {
		const { bleachMl, percent, finalVolumeMl, value } = surfaces.madeUp;
		expectNear(strengthMadeUpTo({ strengthGPerL: gPerL(percent), bleachMl, finalVolumeMl }), gPerL(value), 1e-9);
	});
	it("D10: 1 part of 5 % with 99 of water is 0.05 %", () => {
		const { bleachMl, percent, waterMl, value } = surfaces.added;
		expectNear(strengthAddedTo({ strengthGPerL: gPerL(percent), bleachMl, waterMl }), gPerL(value), 1e-9);
	});
	it.each(surfaces.trap.checks)(
		"$bleachMl mL of 5 % give $madeUpTo % made up to 1 L and only $addedTo % added to 1 L",
		({ bleachMl, addedTo, madeUpTo: madeUp }) => {
			const percent = (strength: number) => strength / 10;
			const mix = { strengthGPerL: 50, bleachMl };
			expectNear(percent(strengthMadeUpTo({ ...mix, finalVolumeMl: 1000 })), madeUp, surfaces.trap.tolerance);
			expectNear(percent(strengthAddedTo({ ...mix, waterMl: 1000 })), addedTo, surfaces.trap.tolerance);
		},
	);
	it("made up to a volume always has the wanted strength", () => {
		fc.assert(
			fc.property(
				fc.double({ min: 0.5, max: 10, noNaN: true }),
				fc.double({ min: 0.1, max: 0.5, noNaN: true }),
				fc.double({ min: 0.1, max: 100, noNaN: true }),
				(haveGPerL, wantGPerL, finalVolumeL) => {
					const made = madeUpTo({ haveGPerL, wantGPerL, finalVolumeL });
					if (made.kind !== "made") throw new Error(made.kind);
					expect(made.bleachMl + made.waterMl).toBeCloseTo(finalVolumeL * 1000, 6);
					expect(strengthAddedTo({ strengthGPerL: haveGPerL, ...made })).toBeCloseTo(wantGPerL, 9);
				},
			),
		);
	});
	it("refuses a wanted strength of 0 g/L", () => {
		expect(() => dilutionParts({ haveGPerL: 5, wantGPerL: 0 })).toThrow("wanted strength in g/L must be 0.01 to 200, got 0");
	});
});

describe("solution for a surface", () => {
	const strength = { lowGPerL: 4.2, medianGPerL: 5, highGPerL: 5.6 };
	it("is reckoned from the weak end: 0.42 to 0.05 % takes 7.4 parts, and is 0.05 to 0.067 % strong", () => {
		const solution = surfaceSolution({ use: "utensils", strength, finalVolumeL: 8.4 });
		if (solution.kind !== "solution") throw new Error(solution.kind);
		expectNear(solution.waterPerPart, 7.4, 1e-9);
		expectNear(solution.bleachMl, 1000, 1e-6);
		expectNear(solution.strengthGPerL.low, 0.5, 1e-9);
		expectNear(solution.strengthGPerL.high, 0.5 * (5.6 / 4.2), 1e-9);
		expect(solution.useWithinHours).toBe(24);
	});
	it("for vomit and stool can't be made from home-made bleach: 2 % is out of reach", () => {
		expect(surfaceSolution({ use: "vomitAndStool", strength, finalVolumeL: 1 }).kind).toBe("tooWeak");
	});
	it("for body fluids is refused when the bleach may be under 0.5 %", () => {
		expect(surfaceSolution({ use: "bodyFluids", strength, finalVolumeL: 1 }).kind).toBe("tooWeak");
		const strong = { lowGPerL: 5, medianGPerL: 5.5, highGPerL: 6 };
		expect(surfaceSolution({ use: "bodyFluids", strength: strong, finalVolumeL: 1 }).kind).toBe("solution");
	});
	it("warns of mixing, asks for cleaning first in every use, and for gloves and goggles from 0.2 %", () => {
		const strong = { lowGPerL: 20, medianGPerL: 20, highGPerL: 20 };
		for (const use of Object.keys(surfaceUses) as SurfaceUse[]) {
			const solution = surfaceSolution({ use, strength: strong, finalVolumeL: 1 });
			if (solution.kind !== "solution") throw new Error(solution.kind);
			expect(solution.cautions).toEqual(
				expect.arrayContaining(["cleanFirst", "neverMix", "plasticOnly", "waterFirst", "firstAid"]),
			);
			expect(solution.cautions.includes("protect")).toBe(solution.strengthGPerL.high >= 2);
			expect(solution.contactMinutes).toBeGreaterThanOrEqual(10);
		}
	});
});
