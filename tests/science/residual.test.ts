import { describe, expect, it } from "@jest/globals";
import fc from "fast-check";
import {
	decayTemperatureFactor,
	hoursUntilBelow,
	residualMgPerL,
	secondOrderMinutesUntilBelow,
	secondOrderResidualMgPerL,
} from "../../src/science/residual.js";
import { foreseenResidual, residualBelief } from "../../src/science/residual-belief.js";
import { fittedResidualMgPerL, residualFit } from "../../src/science/residual-fit.js";
import { promiseVerdict } from "../../src/science/storage-promise.js";
import { waterClasses } from "../../src/science/water-classes.js";
import published from "../published/residual.json" with { type: "json" };
import { expectNear } from "./near.js";

const { after24h, secondOrder, household } = published;

describe("residual in store", () => {
	it("is 0.3706 mg/L 24 h after 2.0 mg/L with a demand of 0.8 and 0.05 1/h", () => {
		expectNear(residualMgPerL(after24h, after24h.hours), after24h.value, after24h.tolerance);
	});
	it("is 0 when the demand takes all of the dose", () => {
		expect(residualMgPerL({ doseMgPerL: 1, demandMgPerL: 1.5, kPerHour: 0.05 }, 2)).toBe(0);
	});
	it("falls under 0.2 mg/L after 36.3 h in the same water, and there it is 0.2", () => {
		// Computed independently: 0.5 + ln(1.2/0.2)/0.05.
		const hours = hoursUntilBelow(after24h);
		expectNear(hours, 36.335, 0.001);
		expectNear(residualMgPerL(after24h, hours), 0.2, 1e-12);
	});
	it("is under 0.2 mg/L from the start when the demand leaves 0.1, and never without decay", () => {
		expect(hoursUntilBelow({ doseMgPerL: 1, demandMgPerL: 0.9, kPerHour: 0.05 })).toBe(0);
		expect(hoursUntilBelow({ doseMgPerL: 1, demandMgPerL: 0.5, kPerHour: 0 })).toBe(Number.POSITIVE_INFINITY);
	});
	it("decays 2.0 to 2.7 times as fast at 35 as at 25 °C over the range of activation temperatures", () => {
		// Computed independently: exp(Ea/R·(1/298.15 - 1/308.15)) at 6000 and 9000 K.
		expectNear(decayTemperatureFactor(25), 1, 1e-12);
		expectNear(decayTemperatureFactor(35, 6000), 1.9216, 0.0005);
		expectNear(decayTemperatureFactor(35, 9000), 2.6638, 0.0005);
	});
	it("lasts shorter in warmer water", () => {
		fc.assert(
			fc.property(fc.double({ min: 0, max: 43, noNaN: true }), (temperatureC) => {
				const hours = (t: number) =>
					hoursUntilBelow({ doseMgPerL: 1.875, demandMgPerL: 0.5, kPerHour: 0.05 * decayTemperatureFactor(t) });
				expect(hours(temperatureC + 2)).toBeLessThan(hours(temperatureC));
			}),
		);
	});
	it("of second order is 0.2500 mg/L from 1.0 after 600 min at 0.005 L/(mg min), and back by its inverse", () => {
		expectNear(secondOrderResidualMgPerL(secondOrder), secondOrder.value, secondOrder.tolerance);
		expectNear(secondOrderMinutesUntilBelow(secondOrder, secondOrder.value), secondOrder.minutes, 1e-9);
	});
	it("refuses a time of 0.2 h, where only the demand is at work", () => {
		expect(() => residualMgPerL(after24h, 0.2)).toThrow("time since dosing in h must be 0.5 to 720, got 0.2");
	});
});

describe("fit to a household's readings", () => {
	it("finds 0.0876 1/h from 1.5 mg/L at 1 h and 0.2 at 24 h, and 0.267 at 24 h from 2.0 at 1 h", () => {
		const result = residualFit(household.readings, "first");
		if (result.kind !== "fit") throw new Error(result.kind);
		expectNear(result.fit.k, household.kPerHour, household.kTolerance);
		expect(result.fit.kStandardError).toBeNull();
		expectNear(2 * Math.exp(-result.fit.k * 23), household.from2At1h, household.tolerance);
		expectNear(fittedResidualMgPerL(result.fit, 24), 0.2, 1e-9);
	});
	it("finds both orders again from readings that follow them, and each fits its own best", () => {
		const hours = [1, 2, 4, 8, 24];
		const first = hours.map((h) => ({ hours: h, residualMgPerL: 1.6 * Math.exp(-0.06 * h) }));
		const second = hours.map((h) => ({
			hours: h,
			residualMgPerL: secondOrderResidualMgPerL({ initialMgPerL: 1.6, kLPerMgMin: 0.003, minutes: h * 60 }),
		}));
		const rms = (readings: typeof first, order: "first" | "second") => {
			const result = residualFit(readings, order);
			if (result.kind !== "fit") throw new Error(result.kind);
			return result.fit;
		};
		expectNear(rms(first, "first").k, 0.06, 1e-12);
		expectNear(rms(first, "first").initialMgPerL, 1.6, 1e-12);
		expectNear(rms(second, "second").k / 60, 0.003, 1e-12);
		expectNear(rms(second, "second").initialMgPerL, 1.6, 1e-10);
		expect(rms(first, "first").rmsMgPerL).toBeLessThan(rms(first, "second").rmsMgPerL);
		expect(rms(second, "second").rmsMgPerL).toBeLessThan(rms(second, "first").rmsMgPerL);
	});
	it("gives the textbook standard error of the slope", () => {
		// Computed independently with scipy.stats.linregress on ln C.
		const readings = [
			{ hours: 1, residualMgPerL: 1.5 },
			{ hours: 4, residualMgPerL: 1.1 },
			{ hours: 8, residualMgPerL: 0.9 },
			{ hours: 24, residualMgPerL: 0.3 },
		];
		const result = residualFit(readings, "first");
		if (result.kind !== "fit") throw new Error(result.kind);
		expectNear(result.fit.k, 0.068220377459, 1e-9);
		expectNear(result.fit.kStandardError, 0.003046645459, 1e-9);
	});
	it("holds a rising series level, and asks for two readings above 0 at different times", () => {
		const rising = residualFit(
			[
				{ hours: 1, residualMgPerL: 0.5 },
				{ hours: 8, residualMgPerL: 0.7 },
			],
			"first",
		);
		expect(rising.kind === "fit" && rising.fit.k).toBe(0);
		expect(
			residualFit(
				[
					{ hours: 1, residualMgPerL: 0.5 },
					{ hours: 24, residualMgPerL: 0 },
				],
				"first",
			),
		).toEqual({
			kind: "tooFewReadings",
		});
	});
	it("refuses a residual of -0.1 mg/L", () => {
		expect(() => residualFit([{ hours: 1, residualMgPerL: -0.1 }], "first")).toThrow(
			"residual in mg/L must be 0 to 20, got -0.1",
		);
	});
});

describe("belief in a household's demand and decay", () => {
	const reading = (hours: number, residual: number) => ({ doseMgPerL: 1.875, hours, temperatureC: 25, residualMgPerL: residual });
	it("starts at its class without readings", () => {
		const { demandMgPerL, kPerHourAt25C } = residualBelief("clear", []);
		const { demandMgPerL: demand, kPerHour: k } = waterClasses.clear;
		expectNear(demandMgPerL.median, demand.median, 0.06);
		expectNear(demandMgPerL.high, demand.high, 0.06);
		expectNear(kPerHourAt25C.low, k.low, 0.002);
		expectNear(kPerHourAt25C.high, k.high, 0.006);
	});
	it("finds a demand of 0.9 mg/L and 0.05 1/h from ten readings that follow them", () => {
		const water = { doseMgPerL: 1.875, demandMgPerL: 0.9, kPerHour: 0.05 };
		const readings = [0.5, 1, 2, 4, 8, 12, 16, 20, 24, 30].map((hours) => reading(hours, residualMgPerL(water, hours)));
		const belief = residualBelief("clear", readings);
		expectNear(belief.demandMgPerL.median, 0.9, 0.1);
		expectNear(belief.kPerHourAt25C.median, 0.05, 0.008);
		const foreseen = foreseenResidual(belief, { doseMgPerL: 1.875, temperatureC: 25, hours: 24 });
		expectNear(foreseen.residualMgPerL.median, residualMgPerL(water, 24), 0.03);
		expectNear(foreseen.hoursUntilBelow.median, hoursUntilBelow(water), 2);
	});
	it("takes a 0 after 24 h as a short life, where a fit on logarithms would leave it out", () => {
		const before = foreseenResidual(residualBelief("clear", []), { doseMgPerL: 1.875, temperatureC: 25, hours: 24 });
		const after = foreseenResidual(residualBelief("clear", [reading(1, 1.2), reading(24, 0)]), {
			doseMgPerL: 1.875,
			temperatureC: 25,
			hours: 24,
		});
		expect(after.residualMgPerL.median).toBeLessThan(before.residualMgPerL.median / 2);
		expect(after.hoursUntilBelow.high).toBeLessThan(before.hoursUntilBelow.high);
	});
	it("doesn't depend on the order of the readings, and its weights add up to 1", () => {
		const readings = [reading(1, 1.1), reading(8, 0.6), reading(24, 0.2)];
		const one = residualBelief("cloudy", readings);
		const other = residualBelief("cloudy", [...readings].reverse());
		expect(one.demandMgPerL).toEqual(other.demandMgPerL);
		expect(one.nodes.reduce((sum, { weight }) => sum + weight, 0)).toBeCloseTo(1, 12);
	});
	it("takes readings in warm water back to 25 °C", () => {
		const factor = decayTemperatureFactor(35);
		const water = { doseMgPerL: 1.875, demandMgPerL: 0.5, kPerHour: 0.03 * factor };
		const warm = [1, 4, 8, 12, 20, 24].map((hours) => ({ ...reading(hours, residualMgPerL(water, hours)), temperatureC: 35 }));
		expectNear(residualBelief("clear", warm).kPerHourAt25C.median, 0.03, 0.005);
	});
});

describe("household dosage test", () => {
	// Sources: Lantagne 2008; Wilhelm et al. 2018.
	const at = (hours: number, residualMgPerL: number) => ({ hours, residualMgPerL });
	it("accepts 1.5 mg/L at 1 h and 0.2 at 24 h for clear water", () => {
		expect(promiseVerdict("clear", [at(1, 1.5), at(24, 0.2)])).toEqual({ kind: "accepted" });
	});
	it("refuses 2.1 at 1 h and 0.1 at 24 h in clear water, both told apart", () => {
		expect(promiseVerdict("clear", [at(1, 2.1), at(24, 0.3)])).toMatchObject({ tooHighAt1h: true, tooLowAtEnd: false });
		expect(promiseVerdict("clear", [at(1, 1.9), at(24, 0.1)])).toMatchObject({ tooHighAt1h: false, tooLowAtEnd: true });
	});
	it("judges cloudy water at 8 h and up to 4.0 mg/L", () => {
		expect(promiseVerdict("cloudy", [at(1, 3.9), at(8, 0.2), at(24, 0)])).toEqual({ kind: "accepted" });
	});
	it("says that the reading at 24 h is missing", () => {
		expect(promiseVerdict("clear", [at(1, 1.5), at(8, 0.9)])).toEqual({ kind: "incomplete", missingHours: [24] });
	});
});
