import { describe, expect, it } from "@jest/globals";
import fc from "fast-check";
import { energyKWhPerKg, energyWh } from "../../src/science/energy-use.js";
import {
	CHLORINE_G_PER_AMPERE_HOUR,
	chargeNeededAh,
	chlorineMadeG,
	currentNeededA,
	runMinutesNeeded,
	runRemainder,
	strengthMadeGPerL,
} from "../../src/science/faraday.js";
import { dilutionAirM3, hydrogenL } from "../../src/science/hydrogen.js";
import { sodiumHypochloriteGPerL } from "../../src/science/units.js";
import published from "../published/making.json" with { type: "json" };
import { expectNear } from "./near.js";

const { batch } = published;
const fiveLitres = { volumeL: 5, strengthGPerL: 5, currentEfficiency: 0.6 };

describe("chlorine from current and time", () => {
	// Source: Faraday's law with two electrons a Cl2 (computed independently).
	it("is 1.32280 g Cl2 and 1.38877 g NaOCl per ampere-hour at full efficiency", () => {
		expectNear(CHLORINE_G_PER_AMPERE_HOUR, published.faraday.chlorine, published.faraday.tolerance);
		expectNear(chlorineMadeG({ currentA: 2, runMinutes: 30, currentEfficiency: 1 }), published.faraday.chlorine, 1e-4);
		expectNear(
			sodiumHypochloriteGPerL(CHLORINE_G_PER_AMPERE_HOUR),
			published.faraday.sodiumHypochlorite,
			published.faraday.tolerance,
		);
	});
	it("takes 31.50 A h and 378 W h at 12 V for 5 L of 5 g/L at an efficiency of 0.60", () => {
		const chargeAh = chargeNeededAh(fiveLitres);
		expectNear(chargeAh, batch.chargeAh, batch.chargeTolerance);
		expectNear(energyWh({ chargeAh, supplyVoltageV: 12 }), batch.energyWh, batch.energyTolerance);
	});
	it("takes 3.78 A h for a litre of 5 g/L at full efficiency, 126 A h and 756 W h at 6 V for 20 L at 0.60", () => {
		expectNear(
			chargeNeededAh({ volumeL: 1, strengthGPerL: 5, currentEfficiency: 1 }),
			batch.litreOfHalfPercentAh,
			batch.litreTolerance,
		);
		const twenty = chargeNeededAh({ volumeL: 20, strengthGPerL: 5, currentEfficiency: 0.6 });
		expectNear(twenty, batch.twentyLitresAh, batch.twentyLitresTolerance);
		expectNear(energyWh({ chargeAh: twenty, supplyVoltageV: 6 }), batch.twentyLitresAt6VWh, batch.wattTolerance);
	});
	it("counts per cell: four cells in series need a quarter of the battery's ampere-hours", () => {
		expectNear(chargeNeededAh({ ...fiveLitres, cellsInSeries: 4 }), batch.chargeAh / 4, batch.chargeTolerance / 4);
	});
	it("gives back the wanted strength when run for the minutes or at the current that it asks for", () => {
		fc.assert(
			fc.property(
				fc.double({ min: 0.5, max: 10, noNaN: true }),
				fc.double({ min: 0.5, max: 50, noNaN: true }),
				fc.double({ min: 0.2, max: 1, noNaN: true }),
				fc.integer({ min: 1, max: 8 }),
				(strengthGPerL, volumeL, currentEfficiency, cellsInSeries) => {
					const wanted = { strengthGPerL, volumeL, currentEfficiency, cellsInSeries };
					const currentA = currentNeededA({ ...wanted, runMinutes: 120 });
					fc.pre(currentA >= 0.05 && currentA <= 500);
					expect(strengthMadeGPerL({ ...wanted, currentA, runMinutes: 120 })).toBeCloseTo(strengthGPerL, 9);
					expect(runMinutesNeeded({ ...wanted, currentA })).toBeCloseTo(120, 9);
				},
			),
		);
	});
	it("refuses an efficiency of 1.2, a current of 0 A and a run of 3 days, naming value and range", () => {
		const run = { currentA: 5, runMinutes: 60, currentEfficiency: 0.6 };
		expect(() => chlorineMadeG({ ...run, currentEfficiency: 1.2 })).toThrow(
			new RangeError("current efficiency (share of 1) must be 0.01 to 1, got 1.2"),
		);
		expect(() => chlorineMadeG({ ...run, currentA: 0 })).toThrow(new RangeError("current in A must be 0.05 to 500, got 0"));
		expect(() => chlorineMadeG({ ...run, runMinutes: 4320 })).toThrow(
			new RangeError("run in minutes must be 0 to 2880, got 4320"),
		);
		expect(() => chlorineMadeG({ ...run, currentA: Number.NaN })).toThrow(RangeError);
	});
});

describe("what an unfinished run still needs", () => {
	const run = { ...fiveLitres, currentA: 25.2 };
	it("is 15.0 more minutes at 25.2 A when a 5 L batch reads 4.0 g/L of 5.0", () => {
		const left = runRemainder({ ...run, strengthNowGPerL: 4 });
		if (left.kind !== "unfinished") throw new Error(left.kind);
		expect(left.missingChlorineG).toBeCloseTo(5, 9);
		// Computed independently: 5 g / (1.3228·0.6·25.2 A) = 0.24999 h.
		expectNear(left.moreMinutes, 15, 0.01);
		expect(left.moreWholeMinutes).toBe(15);
	});
	it("reckons from the minutes already run without a test, and rounds what is left up to 26 whole minutes after 50", () => {
		const left = runRemainder({ ...run, currentA: 25, minutesRun: 50 });
		// Computed independently: 60·25/(1.3228·0.6·25) = 75.597 min in all.
		expectNear(left.kind === "unfinished" ? left.moreMinutes : null, 25.597, 0.001);
		expect(left.kind === "unfinished" && left.moreWholeMinutes).toBe(26);
	});
	it("believes the measured 5.1 g/L over the minutes and calls the run finished", () => {
		expect(runRemainder({ ...run, strengthNowGPerL: 5.1, minutesRun: 10 })).toEqual({
			kind: "finished",
			strengthNowGPerL: 5.1,
		});
	});
	it("refuses to guess without a strength and without minutes", () => {
		expect(() => runRemainder(run)).toThrow(
			"strength so far (0 to 15 g/L) or minutes run (0 to 2880) must be given, got neither",
		);
	});
});

describe("energy for a kilogram of chlorine", () => {
	// Source: V/(efficiency·1.3228) (computed independently).
	it.each(published.energy.checks)("is $value kWh/kg at $voltageV V and an efficiency of $currentEfficiency", (cell) => {
		expectNear(energyKWhPerKg(cell), cell.value, published.energy.tolerance);
	});
	it("refuses 0 V", () => {
		expect(() => energyKWhPerKg({ voltageV: 0, currentEfficiency: 0.6 })).toThrow(
			new RangeError("cell voltage in V must be 1 to 60, got 0"),
		);
	});
});

describe("hydrogen from a run", () => {
	it.each(published.hydrogen.checks)("is $value L from $chargeAh A h at $temperatureC °C", ({ value, tolerance, ...charge }) => {
		expectNear(hydrogenL(charge), value, tolerance);
	});
	it.each(published.hydrogen.perLitreOfHalfPercent.checks)(
		"is $value L for $volumeL L of 0.5 % at an efficiency of $currentEfficiency and 20 °C",
		({ volumeL, currentEfficiency, value, tolerance }) => {
			const chargeAh = chargeNeededAh({ volumeL, strengthGPerL: 5, currentEfficiency });
			expectNear(hydrogenL({ chargeAh, temperatureC: 20 }), value, tolerance);
		},
	);
	it("needs about 5.7 m³ of air for 56.5 L to stay at 1 %, and refuses to plan for more than 1 %", () => {
		const { air } = published.hydrogen;
		expectNear(dilutionAirM3(air.hydrogenL), air.valueM3, air.tolerance);
		expect(() => dilutionAirM3(10, 0.02)).toThrow("hydrogen share in air must be 0.0001 to 0.01, got 0.02");
	});
	it("counts each cell in series", () => {
		expect(hydrogenL({ chargeAh: 10, cellsInSeries: 4 })).toBeCloseTo(4 * hydrogenL({ chargeAh: 10 }), 12);
	});
});
