import { DAVIES_LIMIT_MOL_PER_L, daviesCorrection, ionicStrengthOfBrineMolPerL } from "../../src/science/ionic-strength.js";
import { hoclFractionAt, mixedPka, pkaOfHypochlorousAcid } from "../../src/science/pka.js";
import published from "../published/pka.json" with { type: "json" };

describe("acid constant of HOCl", () => {
	// Source: Morris 1966, J. Phys. Chem. 70:3798.
	it.each(published.pka.checks)("is $value at $temperatureC °C", ({ temperatureC, value }) => {
		expect(Math.abs(pkaOfHypochlorousAcid(temperatureC) - value)).toBeLessThanOrEqual(published.pka.tolerance);
	});
	it("refuses -1 °C and 41 °C", () => {
		expect(() => pkaOfHypochlorousAcid(-1)).toThrow(RangeError);
		expect(() => pkaOfHypochlorousAcid(41)).toThrow(RangeError);
	});
	// Source: Davies equation, computed independently.
	it("is lowered by 0.1345 in brine of 0.5 mol/L", () => {
		const { ionicStrengthMolPerL, value, tolerance } = published.saltShift;
		expect(Math.abs(daviesCorrection(ionicStrengthMolPerL) - value)).toBeLessThanOrEqual(tolerance);
	});
});

describe("share of HOCl", () => {
	// Source: Morris 1966, ionic strength 0, computed independently.
	it.each(published.percentHocl.checks)(
		"is $value % at pH $pH, $temperatureC °C in pure water",
		({ temperatureC, pH, value }) => {
			const percent = 100 * hoclFractionAt(pH, pkaOfHypochlorousAcid(temperatureC));
			expect(Math.abs(percent - value)).toBeLessThanOrEqual(published.percentHocl.tolerance);
		},
	);
	it.each(published.percentHoclInBrine.checks)("is $value % at pH $pH, 25 °C in brine of 0.5 mol/L", ({ pH, value }) => {
		const percent = 100 * hoclFractionAt(pH, mixedPka(25, 0.5));
		expect(Math.abs(percent - value)).toBeLessThanOrEqual(published.percentHoclInBrine.tolerance);
	});
	it("refuses pH -0.1 and 14.1", () => {
		expect(() => hoclFractionAt(-0.1, 7.5)).toThrow(RangeError);
		expect(() => hoclFractionAt(14.1, 7.5)).toThrow(RangeError);
	});
});

describe("ionic strength of the brine", () => {
	// Source: ½·Σ c·z² of sodium chloride, computed independently.
	it.each(published.ionicStrength.checks)("is $value mol/L for $saltGPerL g/L of salt", ({ saltGPerL, value }) => {
		expect(Math.abs(ionicStrengthOfBrineMolPerL(saltGPerL * 5, 5) - value)).toBeLessThanOrEqual(
			published.ionicStrength.tolerance,
		);
	});
	it("refuses 351 g/L, past 6 mol/L where the rate law ends, and a run without water", () => {
		expect(() => ionicStrengthOfBrineMolPerL(351, 1)).toThrow(/salt in the brine in g\/L must be 0 to 350, got 351/);
		expect(() => ionicStrengthOfBrineMolPerL(25, 0)).toThrow(RangeError);
		expect(() => daviesCorrection(1.01)).toThrow(/activity correction ends/);
	});
	it("says from 0.5 mol/L on that the activity correction is extrapolated, which errs to more HOCl", () => {
		expect(DAVIES_LIMIT_MOL_PER_L).toBe(0.5);
		expect(daviesCorrection(1)).toBeLessThan(daviesCorrection(DAVIES_LIMIT_MOL_PER_L));
	});
});
