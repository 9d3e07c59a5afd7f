import { describe, expect, it } from "@jest/globals";
import { batteryMinutes, peukertHours } from "../../src/science/battery.js";
import { brineIonicStrength, saltKgPerKgChlorine, saltNeededG } from "../../src/science/brine.js";
import { currentNeededA, runRemainder, strengthMadeGPerL } from "../../src/science/faraday.js";
import { carryOverShare } from "../../src/science/measures.js";
import { dilutionParts, strengthAddedTo, strengthMadeUpTo } from "../../src/science/surface-dilution.js";
import { surfaceSolution, surfaceUses } from "../../src/science/surface-uses.js";
import { expectNear } from "./near.js";

// What field workers do. Each figure is common practice, no source, unless another source stands beside it; the tests show where it
// agrees with the arithmetic and where it doesn't.
const batch = { strengthGPerL: 5, volumeL: 5 };

describe("a 5 L batch: 75 minutes on a charged 12 V car battery give about 5 g/L", () => {
	// Currents computed independently: 25 g / (1.3228 g/(A h) · 1.25 h · efficiency · cells).
	it.each([
		{ cellsInSeries: 1, currentEfficiency: 0.5, currentA: 30.24 },
		{ cellsInSeries: 1, currentEfficiency: 0.6, currentA: 25.2 },
		{ cellsInSeries: 1, currentEfficiency: 0.75, currentA: 20.16 },
		{ cellsInSeries: 1, currentEfficiency: 0.9, currentA: 16.8 },
		{ cellsInSeries: 2, currentEfficiency: 0.6, currentA: 12.6 },
		{ cellsInSeries: 3, currentEfficiency: 0.6, currentA: 8.4 },
		{ cellsInSeries: 4, currentEfficiency: 0.6, currentA: 6.3 },
	])("at $currentA A with $cellsInSeries cells in series and an efficiency of $currentEfficiency", ({ currentA, ...stack }) => {
		expectNear(currentNeededA({ ...batch, ...stack, runMinutes: 75 }), currentA, 0.005);
		expectNear(strengthMadeGPerL({ ...stack, currentA, runMinutes: 75, volumeL: 5 }), 5, 0.002);
	});
	it("is only 1.25 g/L at the 6.3 A of four cells if there is one cell: chlorine per ampere-hour counts per cell", () => {
		const one = { currentA: 6.3, runMinutes: 75, volumeL: 5, currentEfficiency: 0.6 };
		expectNear(strengthMadeGPerL(one), 1.25, 0.001);
		expectNear(strengthMadeGPerL({ ...one, cellsInSeries: 4 }), 5, 0.002);
	});
	it("drains a full 60 A h battery past half with one cell, not with four; a 100 A h battery carries the one cell", () => {
		const minutes = (capacityAh: number, currentA: number) => batteryMinutes({ battery: { capacityAh }, currentA, share: 1 });
		// Computed independently: 20·(60/(25.2·20))^1.2 h = 93.3 min to flat, half of it to the stop share.
		expectNear(peukertHours({ capacityAh: 60 }, 25.2) * 60, 93.3, 0.1);
		expect(minutes(60, 25.2)).toBeLessThan(75);
		expect(minutes(100, 25.2)).toBeGreaterThan(75);
		expect(minutes(60, 6.3)).toBeGreaterThan(75);
	});
});

describe("if weak, 15 more minutes", () => {
	it("add a fifth of what 75 minutes made at the same current: 1.0 g/L to 5.0, 0.8 to 4.0", () => {
		for (const made of [5, 4]) {
			const currentA = (25.2 * made) / 5;
			const more = strengthMadeGPerL({ currentA, currentEfficiency: 0.6, runMinutes: 15, volumeL: 5 });
			expectNear(more, made / 5, 0.001);
		}
	});
	it("mend a batch down to 4.17 g/L at its own weaker current, and 4.0 g/L only with 18.8 minutes", () => {
		const needed = (strengthNowGPerL: number) => {
			const left = runRemainder({
				...batch,
				currentEfficiency: 0.6,
				currentA: (25.2 * strengthNowGPerL) / 5,
				strengthNowGPerL,
			});
			return left.kind === "unfinished" ? left.moreMinutes : 0;
		};
		expectNear(needed(25 / 6), 15, 0.01);
		expectNear(needed(4), 18.75, 0.01);
	});
	it("fit a battery that wasn't full: 4.17 g/L come from 5/6 of the current", () => {
		expectNear(
			strengthMadeGPerL({ currentA: (25.2 * 5) / 6, currentEfficiency: 0.6, runMinutes: 75, volumeL: 5 }),
			25 / 6,
			0.001,
		);
	});
});

describe("500 g of salt in 5 L", () => {
	it("is 100 g/L, 20 kg of salt for a kilogram of chlorine, four times what small cells are said to need", () => {
		expect(saltNeededG({ saltGPerL: 100, volumeL: 5 })).toBe(500);
		expectNear(saltKgPerKgChlorine({ saltGPerL: 100, strengthGPerL: 5 }), 20, 1e-12);
	});
	it("has an ionic strength of 1.71 mol/L, outside the Davies range", () => {
		const { molPerL, daviesRange } = brineIonicStrength(100);
		expectNear(molPerL, 1.711, 0.0005);
		expect(daviesRange).toBe("outside");
	});
});

describe("strength test: 1 mL made up to 1 L reads 5 mg/L or off the top of the scale", () => {
	/** Bands 0, 1, 2, 3, 4 and 5 or more mg/L, by the nearest whole number. */
	const band = (mgPerL: number) => Math.min(5, Math.round(mgPerL));
	const reading = (strengthGPerL: number) => strengthMadeUpTo({ strengthGPerL, bleachMl: 1, finalVolumeMl: 1000 }) * 1000;
	it.each([
		{ strengthGPerL: 3, mgPerL: 3, shown: 3 },
		{ strengthGPerL: 4, mgPerL: 4, shown: 4 },
		{ strengthGPerL: 5, mgPerL: 5, shown: 5 },
		{ strengthGPerL: 6, mgPerL: 6, shown: 5 },
	])("$strengthGPerL g/L reads $mgPerL mg/L, band $shown of 5", ({ strengthGPerL, mgPerL, shown }) => {
		expectNear(reading(strengthGPerL), mgPerL, 1e-9);
		expect(band(reading(strengthGPerL))).toBe(shown);
	});
	it("can't tell 4.5 g/L from 5 or from 8: the top band is open", () => {
		expect([4.5, 5, 8].map((strength) => band(reading(strength)))).toEqual([5, 5, 5]);
	});
	it("is off by a thousandth only when 1 mL is added to 1 L instead: factor 1001", () => {
		// Source: computed independently.
		const added = strengthAddedTo({ strengthGPerL: 5, bleachMl: 1, waterMl: 1000 }) * 1000;
		expectNear(reading(5) / added, 1.001, 1e-12);
	});
	it("reads the strength in % after 1 in 100 twice: 0.5 mg/L for 0.5 %", () => {
		// Source: CDC safe water system manual, annex C.
		const once = strengthMadeUpTo({ strengthGPerL: 5, bleachMl: 1, finalVolumeMl: 100 });
		expectNear(strengthMadeUpTo({ strengthGPerL: once, bleachMl: 1, finalVolumeMl: 100 }) * 1000, 0.5, 1e-9);
	});
});

describe("a syringe rinsed three times before reuse", () => {
	it("keeps less than a thousandth of the bleach in it; without rinsing its dead volume alone misreads by 7 %", () => {
		const syringe = { deadVolumeMl: 0.07, rinseVolumeMl: 1 };
		expect(carryOverShare({ ...syringe, rinses: 3 })).toBeLessThan(0.001);
		expect(carryOverShare({ ...syringe, rinses: 0 })).toBe(1);
		// 0.07 mL of 5 g/L bleach left behind adds 0.35 mg/L to a litre.
		expectNear(strengthMadeUpTo({ strengthGPerL: 5, bleachMl: 0.07, finalVolumeMl: 1000 }) * 1000, 0.35, 1e-9);
	});
});

describe("surfaces in a home, kitchen and latrine: 10 parts of water to 1", () => {
	it("give 0.045 % from 0.5 % bleach, a tenth under the 0.05 % that 9 parts give", () => {
		expectNear(strengthAddedTo({ strengthGPerL: 5, bleachMl: 1, waterMl: 10 }), 0.4545, 0.0001);
		expectNear(strengthAddedTo({ strengthGPerL: 5, bleachMl: 1, waterMl: 9 }), surfaceUses.homeSurfaces.wantGPerL, 1e-12);
	});
	it("are right for bleach of 5.5 g/L, and too weak from a jar that has fallen to 4 g/L", () => {
		const parts = (haveGPerL: number) => {
			const result = dilutionParts({ haveGPerL, wantGPerL: 0.5 });
			return result.kind === "parts" ? result.waterPerPart : null;
		};
		expectNear(parts(5.5), 10, 1e-9);
		expectNear(parts(4), 7, 1e-9);
	});
	it("are weaker than the 0.1 % and 0.2 % that health bodies ask for touched surfaces and latrines in an outbreak", () => {
		// Sources: CDC 2021 (0.1 %); GTFCC 2019 appendix 9 (0.2 %).
		expect(surfaceUses.touchedSurfaces.wantGPerL).toBe(1);
		expect(surfaceUses.floorsAndLatrines.wantGPerL).toBe(2);
	});
});

describe("medical hazards: undiluted, 30 minutes", () => {
	it("takes bleach of 4.5 g/L or more as it is, for 30 min", () => {
		const strength = { lowGPerL: 4.6, medianGPerL: 5, highGPerL: 5.4 };
		const solution = surfaceSolution({ use: "medicalHazard", strength, finalVolumeL: 0.5 });
		expect(solution).toMatchObject({ kind: "solution", bleachMl: 500, waterMl: 0, contactMinutes: 30 });
	});
	it("is refused for bleach that may be 4.4 g/L", () => {
		const strength = { lowGPerL: 4.4, medianGPerL: 5, highGPerL: 5.4 };
		expect(surfaceSolution({ use: "medicalHazard", strength, finalVolumeL: 0.5 }).kind).toBe("tooWeak");
	});
});
