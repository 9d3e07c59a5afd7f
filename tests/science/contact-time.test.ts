import { describe, expect, it } from "@jest/globals";
import fc from "fast-check";
import { contactMinutes, type PHClass, pHClassOf, residualAfterContactMgPerL } from "../../src/science/contact-time.js";
import {
	ctMgMinPerL,
	giardiaCt3LogMgMinPerL,
	giardiaRegressionCtMgMinPerL,
	virusCt4LogMgMinPerL,
} from "../../src/science/ct-tables.js";
import dose from "../published/dose.json" with { type: "json" };
import residual from "../published/residual.json" with { type: "json" };
import { expectNear } from "./near.js";

describe("contact time", () => {
	// Sources: WHO/WEDC Technical Note 11; MSF cholera guideline appendix 16; form computed independently.
	it.each(dose.contact.checks)("is $value min at $temperatureC °C, pH $pHClass", ({ temperatureC, pHClass, value }) => {
		const minutes = contactMinutes({ waterTemperatureC: temperatureC, pHClass: pHClass as PHClass });
		expectNear(minutes, value, dose.contact.tolerance);
	});
	it("is never under 30 min and never shorter in colder water", () => {
		fc.assert(
			fc.property(fc.double({ min: 0, max: 44, noNaN: true }), (waterTemperatureC) => {
				const minutes = contactMinutes({ waterTemperatureC });
				expect(minutes).toBeGreaterThanOrEqual(30);
				expect(contactMinutes({ waterTemperatureC: waterTemperatureC + 1 })).toBeLessThanOrEqual(minutes);
			}),
		);
	});
	it("takes pH 8.0 itself as above, where 1.0 mg/L must be left instead of 0.5", () => {
		expect([pHClassOf(7.9), pHClassOf(8)]).toEqual(["belowEight", "aboveEight"]);
		expect(residualAfterContactMgPerL("belowEight")).toBe(dose.limits.afterContactMgPerL);
		expect(residualAfterContactMgPerL("aboveEight")).toBe(dose.limits.afterContactAbovePH8MgPerL);
	});
	it("is refused at -1 °C", () => {
		expect(() => contactMinutes({ waterTemperatureC: -1 })).toThrow("water temperature in °C must be 0 to 45, got -1");
	});
});

describe("CT", () => {
	it("of 1.0 mg/L decaying at 0.1 1/h over 30 min is 29.26 mg min/L", () => {
		expectNear(ctMgMinPerL(residual.ctDecay), residual.ctDecay.value, residual.ctDecay.tolerance);
	});
	it("without decay is concentration times time", () => {
		expect(ctMgMinPerL({ initialMgPerL: 0.5, kPerHour: 0, minutes: 30 })).toBe(15);
	});
	// Source: US EPA 815-R-20-003 (2020), table B-2 (secondary transcription).
	it.each(residual.virus.temperaturesC.map((temperatureC, row) => ({ temperatureC, row })))(
		"for 4 log of viruses is the table's at $temperatureC °C and the colder row's just under it",
		({ temperatureC, row }) => {
			for (const pH of [6, 7.5, 9]) expect(virusCt4LogMgMinPerL({ temperatureC, pH })).toBe(residual.virus.pH6To9[row]);
			expect(virusCt4LogMgMinPerL({ temperatureC, pH: 10 })).toBe(residual.virus.pH10[row]);
			if (row > 0) expect(virusCt4LogMgMinPerL({ temperatureC: temperatureC - 0.1, pH: 7 })).toBe(residual.virus.pH6To9[row - 1]);
		},
	);
	// Source: US EPA 815-R-20-003 (2020), table B-1 (secondary transcription).
	it.each(residual.giardia.at1MgPerL)("for 3 log of Giardia at 1.0 mg/L is the table's at $temperatureC °C", (row) => {
		const values = residual.giardia.pH.map((pH) =>
			giardiaCt3LogMgMinPerL({ temperatureC: row.temperatureC, pH, residualMgPerL: 1 }),
		);
		expect(values).toEqual(row.values);
	});
	it("for Giardia takes the colder row and the higher pH between columns: 14.9 °C, pH 7.1 needs 134", () => {
		expect(giardiaCt3LogMgMinPerL({ temperatureC: 14.9, pH: 7.1, residualMgPerL: 0.5 })).toBe(134);
	});
	it("for Giardia is refused above 1.0 mg/L and under 5 °C, where the table at hand ends", () => {
		expect(() => giardiaCt3LogMgMinPerL({ temperatureC: 20, pH: 7, residualMgPerL: 2 })).toThrow(
			"residual in mg/L must be 0 to 1, got 2",
		);
		expect(() => giardiaCt3LogMgMinPerL({ temperatureC: 4, pH: 7, residualMgPerL: 1 })).toThrow(
			"water temperature in °C must be 5 to 45, got 4",
		);
	});
	it.each(residual.giardiaRegression.checks)(
		"by the regression is $value at pH $pH, $residualMgPerL mg/L, $temperatureC °C, $logs log, within 7 % of the table's $table",
		({ value, table, ...water }) => {
			const regression = giardiaRegressionCtMgMinPerL(water);
			expectNear(regression, value, residual.giardiaRegression.tolerance);
			// The source says 7 %, in whole per cent: 98.44 against 92 is 7.0.
			const wholePercent = Math.round(100 * Math.abs(regression / table - 1));
			expect(wholePercent).toBeLessThanOrEqual(100 * residual.giardiaRegression.withinOfTable);
		},
	);
	it("by the regression lies within 8 % of all 35 cells at hand, so it isn't the table", () => {
		const { pH, at1MgPerL, at2MgPerL } = residual.giardia;
		const cells = [at1MgPerL, at2MgPerL].flatMap((rows, i) =>
			rows.flatMap(({ temperatureC, values }) =>
				values.map((table, j) => giardiaRegressionCtMgMinPerL({ temperatureC, pH: pH[j]!, residualMgPerL: i + 1 }) / table - 1),
			),
		);
		expect(cells).toHaveLength(35);
		expect(Math.max(...cells.map(Math.abs))).toBeLessThan(0.08);
		expect(Math.max(...cells.map(Math.abs))).toBeGreaterThan(0.05);
	});
});
