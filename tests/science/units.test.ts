import {
	CL2_G_PER_MOL,
	kelvinOf,
	molPerLOfStrength,
	percentOfStrength,
	sodiumHypochloriteGPerL,
	strengthGPerLOfMolar,
	strengthGPerLOfPercent,
	strengthGPerLOfWeightPercent,
} from "../../src/science/units.js";

describe("units of strength", () => {
	// Source: computed independently from the conventional atomic weights: Cl2 70.906, NaOCl 74.442.
	it("0.5 % is 5 g/L, 0.070516 mol/L and 5.2493 g/L of NaOCl", () => {
		expect(strengthGPerLOfPercent(0.5)).toBe(5);
		expect(percentOfStrength(5)).toBe(0.5);
		expect(molPerLOfStrength(5)).toBeCloseTo(0.070516, 6);
		expect(strengthGPerLOfMolar(0.070516)).toBeCloseTo(5, 4);
		expect(sodiumHypochloriteGPerL(5)).toBeCloseTo(5.2493, 3);
		expect(sodiumHypochloriteGPerL(1)).toBeCloseTo(1.04987, 5);
	});
	// Source: density of 3 % brine 1.02 kg/L, from memory.
	it("0.49 % by weight of a liquid of 1.02 kg/L is 5.0 g/L", () => {
		expect(strengthGPerLOfWeightPercent(0.49, 1.02)).toBeCloseTo(5.0, 2);
	});
	it("25 °C is 298.15 K and a mole of Cl2 is 70.906 g", () => {
		expect(kelvinOf(25)).toBeCloseTo(298.15, 10);
		expect(CL2_G_PER_MOL).toBe(70.906);
	});
});
