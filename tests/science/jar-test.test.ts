import { describe, expect, it } from "@jest/globals";
import type { PHClass } from "../../src/science/contact-time.js";
import { doseFor } from "../../src/science/dose.js";
import { bleachMl, doseMgPerL } from "../../src/science/dose-volume.js";
import { jarTestMinutes, jarTestResult } from "../../src/science/jar-test.js";
import { correctedDose, dilutionWaterL, topUpMl } from "../../src/science/residual-correction.js";
import published from "../published/dose.json" with { type: "json" };
import { expectNear } from "./near.js";

const { jarSeries, jarTests, corrections } = published;
const jars = (residuals: readonly number[]) =>
	residuals.map((residualMgPerL, i) => ({ doseMgPerL: jarTests.doses[i]!, residualMgPerL }));

describe("jar test", () => {
	// Source: MSF cholera guideline appendix 16; conversions computed independently.
	it.each(jarSeries.checks)("$mlOfOnePercent mL of 1 % in 20 L is $mgPerL mg/L and $mlOfHalfPercent mL of 0.5 %", (check) => {
		const { waterVolumeL } = jarSeries;
		expectNear(doseMgPerL({ volumeMl: check.mlOfOnePercent, waterVolumeL, strengthGPerL: 10 }), check.mgPerL, 1e-12);
		expectNear(bleachMl({ doseMgPerL: check.mgPerL, waterVolumeL, strengthGPerL: 5 }), check.mlOfHalfPercent, 1e-12);
	});
	it.each(jarTests.checks)("$name: chooses container $container at $doseMgPerL mg/L, pH $pHClass", (check) => {
		const result = jarTestResult({ jars: jars(check.residuals), pHClass: check.pHClass as PHClass });
		expect(result).toMatchObject({
			kind: "chosen",
			container: check.container,
			doseMgPerL: check.doseMgPerL,
			estimatedDoseMgPerL: null,
		});
	});
	it("J1: takes 100 mL of 1 % or 200 mL of 0.5 % for a tank of 1000 L", () => {
		const { tankL, doseMgPerL: dose, mlOfOnePercent, mlOfHalfPercent } = jarTests.tank;
		expectNear(bleachMl({ doseMgPerL: dose, waterVolumeL: tankL, strengthGPerL: 10 }), mlOfOnePercent, 1e-9);
		expectNear(bleachMl({ doseMgPerL: dose, waterVolumeL: tankL, strengthGPerL: 5 }), mlOfHalfPercent, 1e-9);
	});
	it("J2: is read after 60 min at pH 8 and above, after 30 below", () => {
		expect([jarTestMinutes("belowEight"), jarTestMinutes("aboveEight")]).toEqual([30, 60]);
	});
	it("J3: goes on with 2.5, 3, 3.5 and 4 mL of 1 % when no container reaches 0.5 mg/L", () => {
		const result = jarTestResult({ jars: jars(jarTests.higher.residuals), pHClass: "belowEight" });
		if (result.kind !== "repeatHigher") throw new Error(result.kind);
		const ml = result.nextDosesMgPerL.map((dose) => bleachMl({ doseMgPerL: dose, waterVolumeL: 20, strengthGPerL: 10 }));
		expect(ml).toEqual(jarTests.higher.nextMlOfOnePercent);
	});
	it("J4: takes 1.25 mg/L, the next higher, and offers 1.083 as an estimate on the line", () => {
		const result = jarTestResult({ jars: jars(jarTests.between.residuals), pHClass: "belowEight" });
		if (result.kind !== "chosen") throw new Error(result.kind);
		expect(result.doseMgPerL).toBe(jarTests.between.doseMgPerL);
		expectNear(result.estimatedDoseMgPerL, jarTests.between.estimatedDoseMgPerL, jarTests.between.tolerance);
	});
	it("J6: asks to repeat when container 2 reads less than container 1", () => {
		expect(jarTestResult({ jars: jars(jarTests.falling.residuals), pHClass: "belowEight" })).toEqual({
			kind: "repeat",
			reason: "residualFalls",
			container: 2,
		});
	});
	it("brackets the demand at 0.4 to 0.5 mg/L in J1, and a dose is found for it", () => {
		const result = jarTestResult({ jars: jars([0.1, 0.3, 0.5, 0.8]), pHClass: "belowEight" });
		if (result.kind !== "chosen") throw new Error(result.kind);
		expectNear(result.demandMgPerL.low, 0.4, 1e-12);
		expectNear(result.demandMgPerL.high, 0.5, 1e-12);
		const answer = doseFor({
			strength: { lowGPerL: 4.5, medianGPerL: 5, highGPerL: 5.5 },
			waterVolumeL: 1000,
			turbidity: "clear",
			waterTemperatureC: 25,
			demandMgPerL: result.demandMgPerL,
			targets: { doseMgPerL: result.doseMgPerL },
			measure: { kind: "syringe", capacityMl: 50, stepMl: 1 },
		});
		if (answer.kind !== "dose") throw new Error(answer.kind);
		// 200 mL at the median strength; the weak end of the bleach asks for 1.0·1000/4.5 = 222.2 mL (computed independently).
		expectNear(answer.exactVolumeMl, 200, 1e-9);
		expect(answer.volumeMl).toBe(223);
	});
	it("is refused above 5 NTU, and with two containers", () => {
		expect(jarTestResult({ jars: jars([0.1, 0.3, 0.5, 0.8]), pHClass: "belowEight", turbidityNtu: 6 })).toEqual({
			kind: "refused",
			reason: "tooTurbid",
		});
		expect(() => jarTestResult({ jars: jars([0.1, 0.3]), pHClass: "belowEight" })).toThrow("containers must be 3 to 8, got 2");
	});
	it("takes containers in any order and refuses the same dose twice", () => {
		const shuffled = [...jars([0.1, 0.3, 0.5, 0.8])].reverse();
		expect(jarTestResult({ jars: shuffled, pHClass: "belowEight" })).toMatchObject({ container: 3, doseMgPerL: 1 });
		const twice = [0.1, 0.3, 0.5].map((residualMgPerL) => ({ doseMgPerL: 1, residualMgPerL }));
		expect(() => jarTestResult({ jars: twice, pHClass: "belowEight" })).toThrow("got 1 mg/L twice");
	});
});

describe("correction of a residual", () => {
	it("after 0.1 mg/L left of 1.875 is a dose of 2.275, 9.1 mL of 0.5 % in 20 L", () => {
		const { low, tolerance } = corrections;
		const corrected = correctedDose(low);
		expectNear(corrected.demandMgPerL, low.demandMgPerL, tolerance);
		expectNear(corrected.doseMgPerL, low.newDoseMgPerL, tolerance);
		expect(corrected.atLeast).toBe(false);
		const ml = bleachMl({ doseMgPerL: corrected.doseMgPerL, waterVolumeL: 20, strengthGPerL: 5 });
		expectNear(ml, low.mlOfHalfPercentIn20L, tolerance);
	});
	it("is only a least dose when nothing was left", () => {
		expect(correctedDose({ doseMgPerL: 1.875, residualMgPerL: 0, targetMgPerL: 0.5 })).toMatchObject({
			doseMgPerL: 2.375,
			atLeast: true,
		});
	});
	it("refuses 2.0 mg/L left of 1.875", () => {
		expect(() => correctedDose({ doseMgPerL: 1.875, residualMgPerL: 2, targetMgPerL: 0.5 })).toThrow(
			"residual in mg/L must be 0 to 1.875, got 2: more left than was given",
		);
	});
	it("tops 20 L up from 0.1 to 0.5 mg/L with 1.6 mL, and not at all from 0.6", () => {
		expectNear(topUpMl(corrections.topUp), corrections.topUp.value, corrections.tolerance);
		expect(topUpMl({ ...corrections.topUp, residualMgPerL: 0.6 })).toBe(0);
	});
	it.each(corrections.dilution)("takes $residualMgPerL to 2.0 mg/L in $waterVolumeL L with $value L of water", (check) => {
		expectNear(dilutionWaterL(check), check.value, corrections.tolerance);
	});
	it("can't be diluted to 2.0 mg/L with water of 2.0", () => {
		expect(() => dilutionWaterL({ waterVolumeL: 20, residualMgPerL: 6, targetMgPerL: 2, otherResidualMgPerL: 2 })).toThrow(
			"residual of the water mixed in must be 0 to under 2 mg/L, got 2",
		);
	});
});
