import { describe, expect, it } from "@jest/globals";
import { CL2_MG_PER_EQUIVALENT, dropCountBounds, titrantNeededMl, titratedMgPerL } from "../../src/science/iodometry.js";
import published from "../published/making.json" with { type: "json" };
import { expectNear } from "./near.js";

const { iodometry } = published;

describe("titration with thiosulfate", () => {
	// Source: Standard Methods 4500-Cl B (from memory; values computed independently).
	it.each(iodometry.checks)(
		"finds $mgPerL mg/L from $titrantMl mL of $normality N in $sampleMl mL of sample",
		({ mgPerL, tolerance, ...titration }) => {
			expectNear(titratedMgPerL(titration), mgPerL, tolerance);
		},
	);
	it("foresees 1.4103 mL of 0.100 N for 1.000 mL of 5 g/L", () => {
		expectNear(titrantNeededMl(iodometry.titrant), iodometry.titrant.value, iodometry.titrant.tolerance);
	});
	it("takes the blank off, adds a negative one, and never goes under 0 mg/L", () => {
		const titration = { titrantMl: 2, normality: 0.025, sampleMl: 10 };
		expect(titratedMgPerL({ ...titration, blankMl: 0.1 })).toBeCloseTo(titratedMgPerL({ ...titration, titrantMl: 1.9 }), 9);
		expect(titratedMgPerL({ ...titration, blankMl: -0.1 })).toBeCloseTo(titratedMgPerL({ ...titration, titrantMl: 2.1 }), 9);
		expect(titratedMgPerL({ ...titration, titrantMl: 0.1, blankMl: 0.3 })).toBe(0);
	});
	it("lies within 0.01 % of the printed constant 35 450", () => {
		expect(Math.abs(CL2_MG_PER_EQUIVALENT / iodometry.printedConstant - 1)).toBeLessThan(1e-4);
	});
	it("refuses a normality of 2 eq/L", () => {
		expect(() => titratedMgPerL({ titrantMl: 1, normality: 2, sampleMl: 1 })).toThrow(
			"normality in eq/L must be 0.0005 to 1, got 2",
		);
	});
});

describe("drop count", () => {
	// Computed independently: the true value lies in [(n - 1)·f, n·f).
	it("of 20 at 0.25 g/L each lies in 4.75 to 5.00 g/L, 5 % wide", () => {
		const { lower, upper } = dropCountBounds(20, 0.25);
		expect([lower, upper]).toEqual([4.75, 5]);
		expect((upper - lower) / upper).toBeCloseTo(0.05, 12);
	});
	it("refuses 2.5 drops", () => {
		expect(() => dropCountBounds(2.5, 1)).toThrow("drops must be a whole number from 1 to 500, got 2.5");
	});
});
