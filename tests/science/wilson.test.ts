import { describe, expect, it } from "@jest/globals";
import fc from "fast-check";
import { wilsonInterval, zOfConfidence } from "../../src/science/wilson.js";
import published from "../published/statistics.json" with { type: "json" };
import { expectNear } from "./near.js";

const { wilson } = published;

describe("Wilson interval", () => {
	// Source: R binom.confint values in the tests of statsmodels.
	it.each(wilson.checks)("of $successes in $trials is $low to $high", ({ low, high, tolerance, ...count }) => {
		const interval = wilsonInterval(count);
		expectNear(interval.low, low, tolerance);
		expectNear(interval.high, high, tolerance);
	});
	// Sources: Newcombe 1998 (from memory); own values and coverage of a register (computed independently).
	it.each(
		[wilson.newcombe, wilson.own, wilson.coverage].flatMap(({ checks, tolerance }) => checks.map((c) => ({ ...c, tolerance }))),
	)("of $successes in $trials is $low to $high, within $tolerance", ({ low, high, tolerance, ...count }) => {
		const interval = wilsonInterval(count);
		expectNear(interval.low, low, tolerance);
		expectNear(interval.high, high, tolerance);
	});
	it("lies inside 0 to 1 around the share, mirrors with the failures, and ends exactly at 0 and 1", () => {
		fc.assert(
			fc.property(fc.integer({ min: 1, max: 5000 }), fc.double({ min: 0, max: 1, noNaN: true }), (trials, part) => {
				const successes = Math.round(part * trials);
				const { low, share, high } = wilsonInterval({ successes, trials });
				const mirror = wilsonInterval({ successes: trials - successes, trials });
				expect(low).toBeGreaterThanOrEqual(0);
				expect(low).toBeLessThanOrEqual(share);
				expect(high).toBeGreaterThanOrEqual(share);
				expect(high).toBeLessThanOrEqual(1);
				expect(1 - mirror.high).toBeCloseTo(low, 12);
			}),
		);
		expect(wilsonInterval({ successes: 0, trials: 7 }).low).toBe(0);
		expect(wilsonInterval({ successes: 7, trials: 7 }).high).toBe(1);
	});
	it("uses z = 1.959964 for 95 % and is wider at 99 %", () => {
		expectNear(zOfConfidence(0.95), 1.959964, 5e-7);
		expect(wilsonInterval({ successes: 13, trials: 19, confidence: 0.99 }).low).toBeLessThan(0.4601);
	});
	it("refuses 21 of 20, 1.5 of 20 and 0 of 0", () => {
		expect(() => wilsonInterval({ successes: 21, trials: 20 })).toThrow("successes must be 0 to 20, got 21");
		expect(() => wilsonInterval({ successes: 1.5, trials: 20 })).toThrow(
			"successes must be a whole number from 0 to 20, got 1.5",
		);
		expect(() => wilsonInterval({ successes: 0, trials: 0 })).toThrow("trials must be 1 to 1000000000, got 0");
	});
});
