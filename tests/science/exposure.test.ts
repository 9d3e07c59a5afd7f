import fc from "fast-check";
import { defaultConstants } from "../../src/science/constants.js";
import { exposureBetween, exposureCalendar, instantOfEquivalentDays, type StoragePlace } from "../../src/science/exposure.js";
import { dailyIrradiationMJPerM2 } from "../../src/science/irradiance.js";
import { stockSunLossGPerL } from "../../src/science/photolysis.js";
import { rateRatioTo25C } from "../../src/science/rate-constants.js";
import { referenceEnd } from "./reference-integral.js";

const DAY = 86_400_000;
const YEAR = 365.2425 * DAY;
const january = Date.UTC(2026, 0, 1);

// Invented: a hot inland place at 12° north, its hot season in April.
const seasons = [33, 36, 39, 41, 39, 36, 33, 32, 33, 36, 35, 33].map((dayMeanC, i) => ({
	dayMeanC,
	nightMeanC: dayMeanC - 11,
	cloudFraction: i > 5 && i < 9 ? 0.6 : 0.2,
}));
const steady = Array.from({ length: 12 }, () => ({ dayMeanC: 25, nightMeanC: 25, cloudFraction: 0 }));
const jerryCan: StoragePlace = {
	latitudeDeg: 12,
	altitudeM: 300,
	climate: seasons,
	wall: "translucent",
	exposure: "directSun",
	solutionVolumeL: 5,
	litAreaM2: 0.03,
};
const calendar = exposureCalendar(jerryCan);

describe("heat over a season", () => {
	it("counts a day for a day at a steady 25 °C", () => {
		const even = exposureCalendar({ ...jerryCan, climate: steady, exposure: "indoors" });
		expect(exposureBetween(even, january, january + 100 * DAY).equivalentDaysAt25C).toBeCloseTo(100, 8);
	});
	it("counts the sun's warming of 7.5 °C by day unless told otherwise, and none in the shade", () => {
		const days = (place: Partial<StoragePlace>) =>
			exposureBetween(exposureCalendar({ ...jerryCan, climate: steady, ...place }), january, january + DAY).equivalentDaysAt25C;
		expect(days({ exposure: "shade" })).toBeCloseTo(1, 8);
		expect(days({})).toBeCloseTo(days({ warmingC: 7.5 }), 12);
		expect(days({})).toBeGreaterThan(rateRatioTo25C(25 + 7.5 / 2));
		expect(days({ warmingC: 0 })).toBeCloseTo(1, 8);
		expect(days({ exposure: "shade", warmingC: 5 })).toBeGreaterThan(1.15);
	});
	// Source: ODEX integration of the same climate hour by hour (npm odex); the table's straight days are its only difference.
	it("agrees to 1e-4 with an hourly integration of April's temperature, warmed by the sun", () => {
		const meanC = (41 + 7.5 + 30) / 2;
		const amplitudeC = (Math.PI / 4) * (41 + 7.5 - 30);
		const constant = exposureCalendar({ ...jerryCan, climate: seasons.map(() => seasons[3]!) });
		const hourly = referenceEnd((x) => rateRatioTo25C(meanC + amplitudeC * Math.sin(2 * Math.PI * x)), 0, 30);
		const table = exposureBetween(constant, january, january + 30 * DAY).equivalentDaysAt25C;
		expect(Math.abs(table / hourly - 1)).toBeLessThan(1e-4);
	});
	it("is worst in April: 30 days from 1 April count more than 30 from 1 August", () => {
		const from = (month: number) =>
			exposureBetween(calendar, Date.UTC(2026, month, 1), Date.UTC(2026, month, 31)).equivalentDaysAt25C;
		expect(from(3)).toBeGreaterThan(from(7) * 1.4);
	});
});

describe("light over a season", () => {
	it("takes from a clear day what FAO-56's irradiation takes through the wall", () => {
		const clear = exposureCalendar({ ...jerryCan, climate: steady });
		const lost = exposureBetween(clear, Date.UTC(2026, 5, 21), Date.UTC(2026, 5, 22)).sunLossGPerL;
		const light = dailyIrradiationMJPerM2(12, 172, 300, 0);
		const expected = stockSunLossGPerL(light, defaultConstants.wallTranslucent, 0.03, 5, 5);
		expect(Math.abs(lost / expected - 1)).toBeLessThan(0.002);
	});
	it("is a fifth in the shade, a fiftieth indoors, and none behind a dark wall", () => {
		const lost = (place: Partial<StoragePlace>) =>
			exposureBetween(exposureCalendar({ ...jerryCan, ...place }), january, january + 30 * DAY).sunLossGPerL;
		expect(lost({ exposure: "shade" }) / lost({})).toBeCloseTo(0.2, 10);
		expect(lost({ exposure: "indoors" }) / lost({})).toBeCloseTo(0.02, 10);
		expect(lost({ wall: "opaque" })).toBe(0);
	});
	it("is more for a stronger solution, which lets less of the light pass", () => {
		const lost = (s: number) => exposureBetween(exposureCalendar(jerryCan, s), january, january + DAY).sunLossGPerL;
		expect(lost(10)).toBeGreaterThan(lost(5));
		expect(lost(10)).toBeLessThan(2 * lost(5));
	});
	it("uses a programme's own yield", () => {
		const high = exposureCalendar(jerryCan, 5, { ...defaultConstants, sunYieldGPerMJ: 10 });
		const lost = (c: typeof calendar) => exposureBetween(c, january, january + DAY).sunLossGPerL;
		expect(lost(high) / lost(calendar)).toBeCloseTo(2, 10);
	});
});

describe("the calendar of a place", () => {
	const instants = fc.integer({ min: Date.UTC(1990, 0, 1), max: Date.UTC(2060, 0, 1) });
	const spans = fc.integer({ min: 0, max: 1000 * DAY });
	it("adds up: two spans one after the other count what they count together", () => {
		fc.assert(
			fc.property(instants, spans, spans, (start, first, second) => {
				const a = exposureBetween(calendar, start, start + first);
				const b = exposureBetween(calendar, start + first, start + first + second);
				const all = exposureBetween(calendar, start, start + first + second);
				expect(Math.abs(a.equivalentDaysAt25C + b.equivalentDaysAt25C - all.equivalentDaysAt25C)).toBeLessThan(1e-9);
				expect(Math.abs(a.sunLossGPerL + b.sunLossGPerL - all.sunLossGPerL)).toBeLessThan(1e-9);
			}),
			{ seed: 41 },
		);
	});
	it("repeats every mean year of 365.2425 days, and counts nothing for no time", () => {
		const later = exposureBetween(calendar, january + YEAR, january + YEAR + 50 * DAY);
		const now = exposureBetween(calendar, january, january + 50 * DAY);
		expect(later.equivalentDaysAt25C).toBeCloseTo(now.equivalentDaysAt25C, 8);
		expect(exposureBetween(calendar, january, january)).toEqual({ equivalentDaysAt25C: 0, sunLossGPerL: 0 });
	});
	it("finds the first whole millisecond at which the equivalent days are reached", () => {
		fc.assert(
			fc.property(instants, fc.double({ min: 0, max: 2000, noNaN: true }), (start, days) => {
				const at = instantOfEquivalentDays(calendar, start, days);
				const reached = exposureBetween(calendar, start, at).equivalentDaysAt25C;
				expect(Number.isInteger(at)).toBe(true);
				expect(Math.abs(reached - days)).toBeLessThan(1e-7); // a millisecond is at most 6e-8 equivalent days here
			}),
			{ seed: 42 },
		);
	});
	it("is at the start for 0 days and never for endless ones", () => {
		expect(instantOfEquivalentDays(calendar, january, 0)).toBe(january);
		expect(instantOfEquivalentDays(calendar, january, Number.POSITIVE_INFINITY)).toBe(Number.POSITIVE_INFINITY);
	});
	it("refuses an end before its start, endless spans, negative days and instants that are no numbers", () => {
		expect(() => exposureBetween(calendar, january, january - 1)).toThrow(RangeError);
		expect(() => exposureBetween(calendar, january, Number.POSITIVE_INFINITY)).toThrow(RangeError);
		expect(() => exposureBetween(calendar, Number.NaN, january)).toThrow(RangeError);
		expect(() => instantOfEquivalentDays(calendar, january, -1)).toThrow(RangeError);
		expect(() => instantOfEquivalentDays(calendar, Number.NaN, 1)).toThrow(RangeError);
	});
	it("refuses a place at 91°, at 7000 m, of no volume, warmed by 16 °C, or without twelve months", () => {
		const refused: Partial<StoragePlace>[] = [
			{ latitudeDeg: 91 },
			{ altitudeM: 7000 },
			{ solutionVolumeL: 0 },
			{ warmingC: 16 },
			{ climate: seasons.slice(1) },
		];
		for (const wrong of refused) expect(() => exposureCalendar({ ...jerryCan, ...wrong })).toThrow(RangeError);
		expect(() => exposureCalendar(jerryCan, 0)).toThrow(RangeError);
	});
});
