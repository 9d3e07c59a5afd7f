import { describe, expect, it } from "@jest/globals";
import fc from "fast-check";
import { doseFor } from "../../src/science/dose.js";
import type { Dose, DoseRequest } from "../../src/science/dose-answer.js";
import { bleachMl, chlorateAddedMgPerL, doseMgPerL } from "../../src/science/dose-volume.js";
import type { Measure } from "../../src/science/measures.js";
import { residualMgPerL } from "../../src/science/residual.js";
import { turbidityClassOf, waterClasses } from "../../src/science/water-classes.js";
import published from "../published/dose.json" with { type: "json" };
import { expectNear } from "./near.js";

const sure = (gPerL: number) => ({ lowGPerL: gPerL, medianGPerL: gPerL, highGPerL: gPerL });
const request: DoseRequest = {
	strength: sure(5),
	waterVolumeL: 20,
	turbidity: "clear",
	waterTemperatureC: 25,
	pHClass: "belowEight",
	chlorateInStockMgPerL: 250,
};
const dosed = (change: Partial<DoseRequest> = {}): Dose => {
	const answer = doseFor({ ...request, ...change });
	if (answer.kind !== "dose") throw new Error(`${answer.kind} ${answer.reason}`);
	return answer;
};

describe("volume of bleach", () => {
	// Source: two-dose household scheme, Lantagne 2008; volumes computed independently.
	it.each(published.volumes.checks)(
		"$name: $value mL for $doseMgPerL mg/L in $waterVolumeL L at $percent %",
		({ doseMgPerL: dose, waterVolumeL, percent, value }) => {
			expectNear(bleachMl({ doseMgPerL: dose, waterVolumeL, strengthGPerL: percent * 10 }), value, published.volumes.tolerance);
		},
	);
	it.each(published.chlorate.checks)(
		"brings chlorate of $at1_875 and $at3_75 mg/L at 1.875 and 3.75 mg/L when $strengthMgPerL of 5000 mg/L are left",
		({ strengthMgPerL, at1_875, at3_75 }) => {
			const { yield: perLost, initialMgPerL, tolerance } = published.chlorate;
			const chlorate = (dose: number) =>
				chlorateAddedMgPerL({
					volumeMl: bleachMl({ doseMgPerL: dose, waterVolumeL: 20, strengthGPerL: strengthMgPerL / 1000 }),
					waterVolumeL: 20,
					chlorateInStockMgPerL: perLost * (initialMgPerL - strengthMgPerL),
				});
			expectNear(chlorate(1.875), at1_875, tolerance);
			expectNear(chlorate(3.75), at3_75, tolerance);
		},
	);
	it("refuses a strength of 0 g/L", () => {
		expect(() => bleachMl({ doseMgPerL: 2, waterVolumeL: 20, strengthGPerL: 0 })).toThrow(
			"strength in g/L must be 0.1 to 150, got 0",
		);
	});
});

describe("dose of a known strength", () => {
	it.each(published.volumes.checks.filter(({ name }) => name.startsWith("W") && name !== "W3"))(
		"$name: keeps the exact $value mL and measures the half mL next to it",
		({ waterVolumeL, percent, value }) => {
			const answer = dosed({ strength: sure(percent * 10), waterVolumeL });
			expectNear(answer.exactVolumeMl, value, 1e-9);
			expect(answer.volumeMl * 2).toBe(Math.round(answer.volumeMl * 2));
			expect(Math.abs(answer.volumeMl - value)).toBeLessThanOrEqual(0.25);
			expectNear(answer.doseMgPerL.median, (answer.volumeMl * percent * 10) / waterVolumeL, 1e-12);
		},
	);
	it("W3: is 15.0 mL for cloudy water, one full 10 mL syringe and 5 mL, to be used within 8 h", () => {
		const answer = dosed({ turbidity: "cloudy" });
		expect(answer.volumeMl).toBe(15);
		expect(answer.measured).toEqual({ volumeMl: 15, units: 30, fills: 2, lastFillMl: 5 });
		expect(answer.useWithinHours).toBe(8);
	});
	it("rounds 3.75 mL up to 4.0, never down: halfway protects the drinker", () => {
		expect(dosed({ waterVolumeL: 10 }).volumeMl).toBe(4);
	});
	it("shows the residual after contact and after 24 h, the hours it lasts and the wait of 30 min", () => {
		const answer = dosed();
		const { demandMgPerL: d, kPerHour: k } = waterClasses.clear;
		expect(answer.contactMinutes).toBe(30);
		expectNear(answer.residualAfterContactMgPerL.low, 1.875 - d.high, 1e-12);
		expectNear(answer.residualAfterContactMgPerL.high, 1.875 - d.low, 1e-12);
		expectNear(
			answer.residualAfter24hMgPerL.median,
			residualMgPerL({ doseMgPerL: 1.875, demandMgPerL: d.median, kPerHour: k.median }, 24),
			1e-12,
		);
		expect(answer.residualAfter24hMgPerL.low).toBeGreaterThanOrEqual(published.limits.useMgPerL);
		expect(answer.hoursUntilBelowUse.low).toBeGreaterThanOrEqual(24);
		expect(answer.warnings).toEqual([]);
	});
	it("adds 0.09375 mg/L of chlorate from a stock of 250 mg/L, beside the guideline value of 0.7", () => {
		expectNear(dosed().chlorateMgPerL, 0.09375, 1e-12);
		expect(dosed().chlorateGuidelineMgPerL).toBe(published.limits.chlorateMgPerL);
	});
	it("doses all the same above 0.7 mg/L of chlorate, and says so", () => {
		const answer = dosed({ strength: sure(2.5), turbidity: "cloudy", chlorateInStockMgPerL: 980 });
		// 1.471 mg/L from 2.5 of 5 g/L at 3.75 mg/L, computed independently (0.3923 a mg lost gives 980.75 mg/L in the stock).
		expectNear(answer.chlorateMgPerL, 1.47, 0.002);
		expect(answer.warnings).toContain("chlorateAboveGuideline");
	});
	it("waits 60 min at 8 °C, 120 above pH 8, where 1.0 mg/L must be left", () => {
		expect(dosed({ waterTemperatureC: 8 }).contactMinutes).toBe(60);
		const basic = dosed({ waterTemperatureC: 8, pHClass: "aboveEight" });
		expect(basic.contactMinutes).toBe(120);
		expect(basic.residualAfterContactMgPerL.low).toBeGreaterThanOrEqual(1);
		expect(basic.warnings).toContain("doseRaised");
	});
	it("has a CT above what 4 log of viruses need from 0 to 45 °C in both classes of pH", () => {
		for (const pHClass of ["belowEight", "aboveEight"] as const)
			for (const waterTemperatureC of [0, 5, 10, 15, 20, 25, 35, 45])
				for (const turbidity of ["clear", "cloudy"] as const) {
					const { ct } = dosed({ pHClass, waterTemperatureC, turbidity });
					expect(ct.lowMgMinPerL).toBeGreaterThanOrEqual(ct.virus4LogMgMinPerL);
				}
	});
	it("warns at 35 °C that the weak end may not last 24 h", () => {
		const hot = dosed({ waterTemperatureC: 35 });
		expect(hot.warnings).toContain("mayNotLast");
		expect(hot.hoursUntilBelowUse.low).toBeLessThan(24);
		expect(hot.residualAtUseEndMgPerL.low).toBeLessThan(0.2);
	});
	it("names what it assumed: demand, pH and chlorate when none is given", () => {
		const answer = dosed({ pHClass: undefined, chlorateInStockMgPerL: undefined });
		expect(answer.assumptions).toEqual(["demand", "pH", "chlorate"]);
		expect(answer.chlorateMgPerL).toBeNull();
		expect(dosed({ demandMgPerL: { low: 0.5, high: 0.8 } }).assumptions).toEqual([]);
	});
});

describe("dose of an uncertain strength", () => {
	it("is raised from 7.5 to 8.0 mL when the bleach may be 3.9 g/L and 7.5 would leave under 0.5 mg/L", () => {
		const answer = dosed({ strength: { lowGPerL: 3.9, medianGPerL: 5, highGPerL: 6 } });
		// Computed independently: (0.5 + 1.0)·20/3.9 = 7.69 mL.
		expect(answer.volumeMl).toBe(8);
		expect(answer.warnings).toContain("doseRaised");
		expect(answer.residualAfterContactMgPerL.low).toBeGreaterThanOrEqual(0.5);
	});
	it("is lowered from 15 to 14 mL of cloudy water's dose when the bleach may be 7 g/L and 15 would pass 5 mg/L", () => {
		const answer = dosed({ turbidity: "cloudy", strength: { lowGPerL: 4.5, medianGPerL: 5, highGPerL: 7 } });
		// Computed independently: 5·20/7 = 14.29 mL; (0.5 + 2.5)·20/4.5 = 13.33 mL.
		expect(answer.volumeMl).toBe(14);
		expect(answer.warnings).toContain("doseLowered");
		expect(answer.doseMgPerL.high).toBeLessThanOrEqual(5);
	});
	it("says retest first, with figures, when 3 to 7 g/L leave no single dose for cloudy water", () => {
		const strength = { lowGPerL: 3, medianGPerL: 4.5, highGPerL: 7 };
		const answer = doseFor({ ...request, turbidity: "cloudy", strength });
		if (answer.kind !== "retestFirst") throw new Error(answer.kind);
		expect(answer.reason).toBe("strengthTooUncertain");
		// Computed independently: needs 3.0·20/3 = 20 mL, permits 5·20/7 = 14.29 mL; ratio 2.333 against 5/3.
		expectNear(answer.figures.lowestEffectiveMl, 20, 1e-9);
		expectNear(answer.figures.highestPermittedMl, 14.2857, 1e-4);
		expectNear(answer.figures.spread, 2.3333, 1e-4);
		expectNear(answer.figures.permittedSpread, 5 / 3, 1e-9);
	});
	it("says retest first when the low end is 0 g/L: no volume is effective", () => {
		const answer = doseFor({ ...request, strength: { lowGPerL: 0, medianGPerL: 4, highGPerL: 5 } });
		expect(answer).toMatchObject({ kind: "retestFirst", figures: { lowestEffectiveMl: null, spread: null } });
	});
	it("either gives a dose that is effective at the low end and at most 5 mg/L at the high end, or no dose", () => {
		const measures: Measure[] = [
			{ kind: "syringe", capacityMl: 10, stepMl: 0.5 },
			{ kind: "syringe", capacityMl: 1, stepMl: 0.1 },
			{ kind: "cap", volumeMl: 3 },
			{ kind: "spoon", volumeMl: 5 },
		];
		const seen = new Set<string>();
		fc.assert(
			fc.property(
				fc.double({ min: 0.05, max: 12, noNaN: true }),
				fc.double({ min: 1, max: 2, noNaN: true }),
				fc.double({ min: 1, max: 2, noNaN: true }),
				fc.double({ min: 1, max: 200, noNaN: true }),
				fc.double({ min: 0, max: 45, noNaN: true }),
				fc.constantFrom("clear" as const, "cloudy" as const, "veryTurbid" as const),
				fc.constantFrom("belowEight" as const, "aboveEight" as const, undefined),
				fc.constantFrom(...measures),
				fc.option(
					fc.record({ low: fc.double({ min: 0, max: 3, noNaN: true }), more: fc.double({ min: 0, max: 6, noNaN: true }) }),
				),
				(lowGPerL, up, upAgain, waterVolumeL, waterTemperatureC, turbidity, pHClass, measure, demand) => {
					const strength = { lowGPerL, medianGPerL: lowGPerL * up, highGPerL: lowGPerL * up * upAgain };
					const demandMgPerL = demand ? { low: demand.low, high: demand.low + demand.more } : undefined;
					const answer = doseFor({ strength, waterVolumeL, turbidity, waterTemperatureC, pHClass, measure, demandMgPerL });
					seen.add(answer.kind === "dose" ? answer.kind : answer.reason);
					if (answer.kind !== "dose") return;
					const needed = pHClass === "aboveEight" ? 1 : 0.5;
					expect(answer.residualAfterContactMgPerL.low).toBeGreaterThanOrEqual(needed - 1e-6);
					expect(answer.doseMgPerL.high - (demand?.low ?? 0)).toBeLessThanOrEqual(5 + 1e-6);
					const unit = measure.kind === "syringe" ? measure.stepMl : measure.volumeMl;
					expect(answer.measured.units * unit).toBeCloseTo(answer.volumeMl, 9);
					expect(answer.volumeMl).toBeGreaterThan(0);
				},
			),
			{ numRuns: 3000, seed: 20260301 },
		);
		// Every kind of answer was met, so none of them is out of reach.
		expect([...seen].sort()).toEqual([
			"demandTooUncertain",
			"dose",
			"measureTooCoarse",
			"strengthTooUncertain",
			"tooTurbid",
			"tooWeak",
		]);
	});
});

describe("no dose", () => {
	it("is given over 100 NTU: pretreat first", () => {
		expect([turbidityClassOf(9.9), turbidityClassOf(10), turbidityClassOf(100), turbidityClassOf(101)]).toEqual([
			"clear",
			"cloudy",
			"cloudy",
			"veryTurbid",
		]);
		expect(doseFor({ ...request, turbidity: "veryTurbid" })).toEqual({ kind: "refused", reason: "tooTurbid" });
	});
	it("is given from bleach under 0.5 g/L", () => {
		expect(doseFor({ ...request, strength: sure(0.4) })).toEqual({ kind: "refused", reason: "tooWeak" });
	});
	it("is given for a 1 L bottle with a 5 mL spoon: the measure is too coarse", () => {
		expect(doseFor({ ...request, waterVolumeL: 1, measure: { kind: "spoon", volumeMl: 5 } })).toEqual({
			kind: "refused",
			reason: "measureTooCoarse",
		});
	});
	it("is given when the demand may be anything from 0 to 6 mg/L: a jar test first", () => {
		expect(doseFor({ ...request, demandMgPerL: { low: 0, high: 6 } })).toEqual({
			kind: "refused",
			reason: "demandTooUncertain",
		});
	});
});

describe("dose for a known demand", () => {
	it("is raised to 9.5 mL where 1.875 mg/L left 0.1: the exact need is 9.1 mL", () => {
		const { demandMgPerL, mlOfHalfPercentIn20L } = published.corrections.low;
		const answer = dosed({ demandMgPerL: { low: demandMgPerL, high: demandMgPerL } });
		expect(answer.volumeMl).toBe(9.5);
		expect(answer.volumeMl).toBeGreaterThanOrEqual(mlOfHalfPercentIn20L);
		expectNear(answer.doseMgPerL.median - demandMgPerL, 0.6, 1e-9);
	});
	it("may pass 5 mg/L of dose where the water takes 2 of them, never 5 of residual", () => {
		const answer = dosed({ targets: { doseMgPerL: 6 }, demandMgPerL: { low: 2, high: 2 } });
		expect(answer.doseMgPerL.high).toBeCloseTo(6, 9);
		expect(answer.residualAfterContactMgPerL.high).toBeCloseTo(4, 9);
		expect(answer.warnings).toContain("mayTasteStrong");
	});
});

describe("measures and misuse", () => {
	it("counts caps and spoons: 5 caps of 3 mL for 15 mL, 40 L of clear water", () => {
		const answer = dosed({ waterVolumeL: 40, measure: { kind: "cap", volumeMl: 3 } });
		expect(answer.measured).toEqual({ volumeMl: 15, units: 5, fills: 5, lastFillMl: 3 });
	});
	it("warns of miscounting when a 1000 L tank takes 38 fills of a 10 mL syringe", () => {
		const answer = dosed({ waterVolumeL: 1000 });
		expect(answer.volumeMl).toBe(375);
		expect(answer.measured).toMatchObject({ fills: 38, lastFillMl: 5 });
		expect(answer.warnings).toContain("manyFills");
	});
	it("refuses strengths out of order, 0 L of water, 60 °C and a maximum above the guideline's 5 mg/L", () => {
		expect(() => doseFor({ ...request, strength: { lowGPerL: 5, medianGPerL: 4, highGPerL: 6 } })).toThrow(
			"median strength in g/L must be 5 to 150, got 4: strengths rise from low to median to high",
		);
		expect(() => doseFor({ ...request, waterVolumeL: 0 })).toThrow("water in L must be 0.25 to 10000, got 0");
		expect(() => doseFor({ ...request, waterTemperatureC: 60 })).toThrow("water temperature in °C must be 0 to 45, got 60");
		expect(() => doseFor({ ...request, targets: { maximumMgPerL: 6 } })).toThrow(
			"maximum residual in mg/L must be 1 to 5, got 6",
		);
	});
	it("gives back the dose of its volume", () => {
		fc.assert(
			fc.property(fc.double({ min: 0.1, max: 10, noNaN: true }), fc.double({ min: 0.5, max: 20, noNaN: true }), (dose, gPerL) => {
				const volumeMl = bleachMl({ doseMgPerL: dose, waterVolumeL: 20, strengthGPerL: gPerL });
				expect(doseMgPerL({ volumeMl, waterVolumeL: 20, strengthGPerL: gPerL })).toBeCloseTo(dose, 9);
			}),
		);
	});
});
