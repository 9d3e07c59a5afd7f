import { constantsWith, defaultConstants } from "../../src/science/constants.js";
import {
	absorbedLightRatio,
	diluteSunLossRatePerS,
	exposureFraction,
	screeningFactor,
	stockSunLossGPerL,
	type Wall,
	wallTransmittance,
} from "../../src/science/photolysis.js";
import { hoclFractionAt, pkaOfHypochlorousAcid } from "../../src/science/pka.js";
import { CL2_G_PER_MOL } from "../../src/science/units.js";
import published from "../published/photolysis.json" with { type: "json" };

const near = (actual: number, expected: number, tolerance: number) =>
	expect(Math.abs(actual - expected)).toBeLessThanOrEqual(tolerance);

describe("sun on water with a few mg/L", () => {
	const halfLifeMin = (pH: number) =>
		Math.LN2 / diluteSunLossRatePerS(hoclFractionAt(pH, pkaOfHypochlorousAcid(25)), 1000, 1) / 60;
	// Source: Nowell & Hoigné 1992, Water Res. 26:593-598.
	it.each(published.diluteHalfLife.checks)("halves free chlorine in $value min of summer noon at pH $pH", ({ pH, value }) => {
		near(halfLifeMin(pH), value, published.diluteHalfLife.tolerance);
	});
	it("is in the abstract's words 12 min at pH 8 and 60 min at pH 5", () => {
		expect(Math.round(halfLifeMin(8))).toBe(12);
		near(halfLifeMin(5), 60, 4);
	});
	it("goes with the irradiance and the light that is let through", () => {
		expect(diluteSunLossRatePerS(0.3, 500, 0.5)).toBeCloseTo(diluteSunLossRatePerS(0.3, 1000, 1) / 4, 15);
		expect(diluteSunLossRatePerS(0.3, 0, 1)).toBe(0);
	});
	it("refuses a share of 1.1, 1501 W/m² and a light fraction of -0.1", () => {
		expect(() => diluteSunLossRatePerS(1.1, 1000, 1)).toThrow(RangeError);
		expect(() => diluteSunLossRatePerS(0.5, 1501, 1)).toThrow(RangeError);
		expect(() => diluteSunLossRatePerS(0.5, 1000, -0.1)).toThrow(RangeError);
	});
});

describe("a solution's own screening", () => {
	// Source: (1 - 10^-A)/(2.303·A), computed independently.
	it.each(published.screeningFactor.checks)(
		"leaves $value of the light on average at an absorbance of $absorbance",
		({ absorbance, value }) => {
			near(screeningFactor(absorbance), value, published.screeningFactor.tolerance);
		},
	);
	it("leaves all of it at 0 and passes there without a step; refuses -0.1", () => {
		expect(screeningFactor(0)).toBe(1);
		expect(screeningFactor(1e-12)).toBeCloseTo(1, 11);
		expect(() => screeningFactor(-0.1)).toThrow(RangeError);
	});
	// Source: photon budget with ASTM G173-03, computed independently.
	it.each(published.absorbedLightRatio.checks)("absorbs $value of the reference light at $concentrationPathMCm M·cm", (row) => {
		near(absorbedLightRatio(row.concentrationPathMCm) / row.value, 1, published.absorbedLightRatio.relativeTolerance);
	});
	it("absorbs more with every step of strength or depth, from 0.001 to 100 M·cm, and refuses what lies outside", () => {
		let last = 0;
		for (let x = 0.001; x <= 100; x *= 1.3) {
			expect(absorbedLightRatio(x)).toBeGreaterThan(last);
			last = absorbedLightRatio(x);
		}
		expect(() => absorbedLightRatio(0.0009)).toThrow(/thick stock solution/);
		expect(() => absorbedLightRatio(101)).toThrow(RangeError);
	});
});

describe("sun on a container of stock solution", () => {
	const { volumeL, litAreaM2, irradiationMJPerM2, checks } = published.thickSolution;
	// The strength for which strength times depth is the reference of 1 M·cm.
	const strengthGPerL = (CL2_G_PER_MOL * litAreaM2 * 10) / volumeL;
	// Source: photon budget, computed independently.
	it.each(checks)("takes $gramsPerDay g a day, $percentOf5GPerL % of 5 g/L, through a wall of $transmittance", (row) => {
		const lost = stockSunLossGPerL(irradiationMJPerM2, row.transmittance, litAreaM2, volumeL, strengthGPerL);
		near(lost * volumeL, row.gramsPerDay, 0.005);
		near((100 * lost) / 5, row.percentOf5GPerL, 0.05);
	});
	// Source: Rutala et al. 1998, abstract: about 3 times the loss for 10 times the strength, where first order would give 10.
	it("takes 1.5 to 2 times as much from 10 g/L as from 1 g/L, far from the 10 times of a first-order loss", () => {
		const [least, most] = published.zeroOrder.model;
		for (const depthCm of [5, 10, 15]) {
			const volume = litAreaM2 * depthCm * 10;
			const lost = (s: number) => stockSunLossGPerL(20, 0.1, litAreaM2, volume, s);
			const ratio = lost(published.zeroOrder.strongGPerL) / lost(published.zeroOrder.weakGPerL);
			expect(ratio).toBeGreaterThan(least!);
			expect(ratio).toBeLessThan(most!);
		}
	});
	it("takes nothing without light, area or a wall that lets light through", () => {
		expect(stockSunLossGPerL(0, 0.1, 0.03, 5, 5)).toBe(0);
		expect(stockSunLossGPerL(20, 0, 0.03, 5, 5)).toBe(0);
		expect(stockSunLossGPerL(20, 0.1, 0, 5, 5)).toBe(0);
	});
	it("refuses a transmittance of 1.1, an area of 11 m², no volume and negative light", () => {
		expect(() => stockSunLossGPerL(20, 1.1, 0.03, 5, 5)).toThrow(RangeError);
		expect(() => stockSunLossGPerL(20, 0.1, 11, 5, 5)).toThrow(RangeError);
		expect(() => stockSunLossGPerL(20, 0.1, 0.03, 0, 5)).toThrow(RangeError);
		expect(() => stockSunLossGPerL(-1, 0.1, 0.03, 5, 5)).toThrow(RangeError);
	});
});

describe("walls and places", () => {
	it("let through less the more they protect: dark, amber, white, natural, clear plastic, clear glass", () => {
		const order: Wall[] = ["opaque", "amberGlass", "opaqueWhite", "translucent", "clearPlastic", "clearGlass"];
		const through = order.map((wall) => wallTransmittance(wall));
		expect(through).toEqual([...through].sort((a, b) => a - b));
		expect(new Set(through).size).toBe(order.length);
	});
	// Source: Buck, Sawant et al. 2023, J. Environ. Chem. Eng., abstract: PP jerry can 4.3 %, clarified 8.0 %, PET 10 to 85 %.
	it("have ranges that hold the measured jerry cans and bottles", () => {
		for (const tau of [0.043, 0.08]) expect(wallTransmittance("translucent", constantsWith({ wallTranslucent: tau }))).toBe(tau);
		for (const tau of [0.1, 0.85]) expect(wallTransmittance("clearPlastic", constantsWith({ wallClearPlastic: tau }))).toBe(tau);
	});
	it("in the shade get the bright end of 0.1 to 0.2 of the light, indoors 0.02", () => {
		expect(exposureFraction("directSun")).toBe(1);
		expect(exposureFraction("shade")).toBe(defaultConstants.shadeFraction);
		expect(exposureFraction("shade")).toBe(0.2);
		expect(exposureFraction("indoors")).toBe(0.02);
	});
});
