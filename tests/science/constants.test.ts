import { constantsWith, defaultConstants, uncertainConstants } from "../../src/science/constants.js";

describe("uncertain constants", () => {
	it.each(Object.entries(uncertainConstants))("%s has a default within its range, a unit and a source", (_, constant) => {
		expect(constant.default).toBeGreaterThanOrEqual(constant.min);
		expect(constant.default).toBeLessThanOrEqual(constant.max);
		expect(constant.min).toBeLessThan(constant.max);
		expect(constant.unit).not.toBe("");
		expect(constant.source).not.toBe("");
	});
	// Source: K3 at 25 °C, readings from 0.012 to 0.142 1/(M² s) of Adam et al. 1992 and Kalmár et al. 2018; k3 = 1.2032e-2.
	it("let the acid path's loss constant go from 0.012 to 0.142 1/(M² s), 0.036 unless told", () => {
		const { min, max } = uncertainConstants.acidPathLossFactor;
		expect(min * 1.2032e-2).toBeCloseTo(0.012, 3);
		expect(defaultConstants.acidPathLossFactor * 1.2032e-2).toBeCloseTo(0.0361, 4);
		expect(max * 1.2032e-2).toBeCloseTo(0.142, 3);
	});
	it("can't be changed in place, nor can a set of them", () => {
		expect(Object.isFrozen(uncertainConstants)).toBe(true);
		for (const constant of Object.values(uncertainConstants)) expect(Object.isFrozen(constant)).toBe(true);
		expect(Object.isFrozen(constantsWith({ sunYieldGPerMJ: 3 }))).toBe(true);
	});
	it("take a programme's value and keep the other defaults", () => {
		expect(constantsWith({ sunYieldGPerMJ: 3 })).toEqual({ ...defaultConstants, sunYieldGPerMJ: 3 });
	});
	it("refuse a value outside its range with name, range and unit, and a name that isn't one", () => {
		expect(() => constantsWith({ sunYieldGPerMJ: 13 })).toThrow("sunYieldGPerMJ must be 2 to 12 g Cl2/MJ, got 13");
		expect(() => constantsWith({ sunYieldGPerMJ: Number.NaN })).toThrow(RangeError);
		expect(() => constantsWith({ moonYield: 1 } as never)).toThrow(/"moonYield" is no constant/);
	});
});
