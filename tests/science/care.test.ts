import { describe, expect, it } from "@jest/globals";
import fc from "fast-check";
import { controlLimits } from "../../src/science/control-limits.js";
import { capacityShare, drawnShare } from "../../src/science/coulomb-count.js";
import { electrodeLifeLeft } from "../../src/science/electrode-life.js";
import { readingsApartSd } from "../../src/science/readings-apart.js";
import published from "../published/care.json" with { type: "json" };
import { expectNear } from "./near.js";

describe("control limits of single values", () => {
	// Source: NIST/SEMATECH e-Handbook, section 6.3.2.2.
	it("are 45.8159 and 55.8041 around 50.81 for the handbook's ten flow rates", () => {
		const { values, centre, lower, upper, tolerance } = published.controlLimits;
		const limits = controlLimits(values);
		expectNear(limits.centre, centre, tolerance);
		expectNear(limits.lower, lower, tolerance);
		expectNear(limits.upper, upper, tolerance);
	});
	it("leave room for the error of a test where all readings are the same", () => {
		expect(controlLimits([4, 4, 4, 4], 0.5)).toEqual({ centre: 4, sd: 0.5, lower: 2.5, upper: 5.5 });
	});
	it("are refused for one value and for what isn't a number", () => {
		expect(() => controlLimits([1])).toThrow("values of a control chart must be 2 to 100000, got 1");
		expect(() => controlLimits([1, Number.NaN])).toThrow("value 2");
	});
});

describe("life that is left of an electrode", () => {
	const { lowHours, highHours, checks, tolerance } = published.electrodeLife;
	// Source: conditional quantiles of a lognormal, computed independently with SciPy.
	it.each(checks)("is $median h ($low to $high) after $hoursRun h", ({ hoursRun, low, median, high }) => {
		const left = electrodeLifeLeft({ hoursRun, lowHours, highHours });
		expectNear(left.lowHours, low, tolerance);
		expectNear(left.medianHours, median, tolerance);
		expectNear(left.highHours, high, tolerance);
	});
	it("never falls below 0 and keeps its order, however long it ran", () => {
		fc.assert(
			fc.property(fc.double({ min: 0, max: 100_000, noNaN: true }), (hoursRun) => {
				const left = electrodeLifeLeft({ hoursRun, lowHours, highHours });
				expect(left.lowHours).toBeGreaterThanOrEqual(0);
				expect(left.medianHours).toBeGreaterThanOrEqual(left.lowHours);
				expect(left.highHours).toBeGreaterThanOrEqual(left.medianHours);
			}),
		);
	});
	it("is refused where the shorter life isn't the shorter", () => {
		expect(() => electrodeLifeLeft({ hoursRun: 0, lowHours: 800, highHours: 800 })).toThrow("shorter life must be less");
	});
});

describe("the share of a charge that a run draws", () => {
	const { capacityAh, peukertExponent, checks, tolerance } = published.drawnShare;
	it.each(checks)("is $share for $minutes min at $currentA A from 100 A h", ({ currentA, minutes, share }) => {
		expectNear(drawnShare({ battery: { capacityAh, peukertExponent }, currentA, minutes }), share, tolerance);
	});
	it("tells half of the label's capacity where 0.2 was drawn and the charge fell by 0.4", () => {
		expectNear(capacityShare({ drawnShare: 0.2, shareBefore: 0.9, shareAfter: 0.5 }), 0.5, 1e-12);
	});
	it("tells nothing where the charge fell by less than the meter's error, or rose", () => {
		expect(capacityShare({ drawnShare: 0.2, shareBefore: 0.9, shareAfter: 0.85 })).toBeNull();
		expect(capacityShare({ drawnShare: 0.2, shareBefore: 0.5, shareAfter: 0.9 })).toBeNull();
	});
});

describe("the distance of two readings", () => {
	const { checks, tolerance } = published.apart;
	const read = ([lowGPerL, highGPerL, logSd]: number[]) => ({ lowGPerL: lowGPerL!, highGPerL: highGPerL!, logSd: logSd! });
	it.each(checks)("is $apart sd for $first and $second g/L, either way round", ({ first, second, apart }) => {
		expectNear(readingsApartSd(read(first), read(second)), apart, tolerance);
		expectNear(readingsApartSd(read(second), read(first)), apart, tolerance);
	});
	it("is 0 where the lower one says this or more", () => {
		expect(readingsApartSd({ lowGPerL: 2, highGPerL: null, logSd: 0.15 }, read([5, 7, 0.15]))).toBe(0);
	});
});
