import { describe, expect, it } from "@jest/globals";
import fc from "fast-check";
import { batteryForRun, batteryMinutes, peukertHours } from "../../src/science/battery.js";
import { restCharge } from "../../src/science/rest-voltage.js";
import published from "../published/making.json" with { type: "json" };
import { expectNear } from "./near.js";

const { peukert, restVoltage } = published;

describe("hours of a battery at a current", () => {
	// Source: Peukert 1897 at the rated hours (computed independently).
	it.each(peukert.checks)("are $value h at $currentA A for 100 A h rated at 20 h, exponent 1.2", ({ currentA, value }) => {
		expectNear(peukertHours(peukert, currentA), value, peukert.tolerance);
	});
	it("are not the 14.5 h at 5 A of the form that misuses the 20-hour rating", () => {
		const { currentA, value, tolerance } = peukert.misusedForm;
		expectNear(peukert.capacityAh / currentA ** peukert.peukertExponent, value, tolerance);
		expect(peukertHours(peukert, currentA)).toBeCloseTo(20, 9);
	});
	it("fall when the current rises, and more than in proportion", () => {
		fc.assert(
			fc.property(fc.double({ min: 1, max: 50, noNaN: true }), (currentA) => {
				expect(peukertHours(peukert, currentA * 2)).toBeLessThan(peukertHours(peukert, currentA) / 2);
			}),
		);
	});
	it("are refused for an exponent of 2 and a capacity of 0 A h", () => {
		expect(() => peukertHours({ capacityAh: 70, peukertExponent: 2 }, 5)).toThrow("Peukert exponent must be 1 to 1.6, got 2");
		expect(() => peukertHours({ capacityAh: 0 }, 5)).toThrow("battery capacity in A h must be 1 to 2000, got 0");
	});
});

describe("charge from the rest voltage", () => {
	const rested = (restVoltageV: number) => {
		const charge = restCharge({ restVoltageV, restHours: 6 });
		if (charge.kind !== "rested") throw new Error(charge.kind);
		return charge;
	};
	it.each(restVoltage.checks)("is $share of full at $restVoltageV V", ({ restVoltageV, share }) => {
		expectNear(rested(restVoltageV).share, share, restVoltage.tolerance);
	});
	it("keeps every other table in use within its bounds, with the 15 points of the meter on top", () => {
		for (const [volts, share] of restVoltage.otherTables.flat() as [number, number][]) {
			const { lowShare, highShare } = rested(volts);
			expect(lowShare).toBeLessThanOrEqual(Math.max(0, share - restVoltage.meterShare) + 1e-9);
			expect(highShare).toBeGreaterThanOrEqual(Math.min(1, share + restVoltage.meterShare) - 1e-9);
		}
	});
	it("is 0.50 with bounds 0.25 and 0.70 at 12.24 V", () => {
		// Computed independently: tables give 0.50, 0.55 and 0.40; 15 points on either side.
		const { lowShare, share, highShare } = rested(12.24);
		expectNear(share, 0.5, 1e-9);
		expectNear(lowShare, 0.25, 1e-9);
		expectNear(highShare, 0.7, 1e-9);
	});
	it("rises with the voltage", () => {
		fc.assert(
			fc.property(fc.double({ min: 10, max: 12.8, noNaN: true }), (volts) => {
				expect(rested(volts + 0.05).share).toBeGreaterThanOrEqual(rested(volts).share);
			}),
		);
	});
	it("is not told after 2 h of rest: 4 h are missing", () => {
		expect(restCharge({ restVoltageV: 12.7, restHours: 2 })).toEqual({ kind: "notRested", moreRestHours: 4 });
	});
	it("is not told at 13.4 V: something charges", () => {
		expect(restCharge({ restVoltageV: 13.4, restHours: 12 })).toEqual({ kind: "stillCharging" });
	});
	it("is refused for a 24 V set and at 50 °C", () => {
		expect(() => restCharge({ restVoltageV: 25, restHours: 8 })).toThrow("rest voltage in V must be 0 to 16, got 25");
		expect(() => restCharge({ restVoltageV: 12.5, restHours: 8, temperatureC: 50 })).toThrow(
			"battery temperature in °C must be 10 to 40, got 50",
		);
	});
});

describe("whether a battery carries a run", () => {
	const battery = { capacityAh: 100 };
	it("lasts half of Peukert's hours from full to the stop share of 0.5", () => {
		expectNear(batteryMinutes({ battery, currentA: 10, share: 1 }), (8.7055 / 2) * 60, 0.04);
		expect(batteryMinutes({ battery, currentA: 10, share: 0.4 })).toBe(0);
	});
	it("is enough, doubtful or not enough as the bounds of its charge lie", () => {
		const charge = { lowShare: 0.7, share: 0.8, highShare: 0.9 };
		// Computed independently: 8.7055 h·60·(share - 0.5) = 104.5, 156.7, 208.9 min.
		const verdict = (runMinutes: number) => batteryForRun({ battery, charge, currentA: 10, runMinutes });
		expectNear(verdict(100).lowMinutes, 104.47, 0.02);
		expect(verdict(100).kind).toBe("enough");
		expect(verdict(150).kind).toBe("doubtful");
		expect(verdict(209).kind).toBe("notEnough");
		expectNear(verdict(150).neededAh, 25, 1e-9);
		expectNear(verdict(150).leftAh, 26.12, 0.01);
	});
});
