import {
	clearSkyIrradianceWPerM2,
	cloudyIrradianceWPerM2,
	dailyIrradiationMJPerM2,
	daylightHours,
	declinationRad,
	distanceFactor,
	extraterrestrialMJPerM2,
	sunsetHourAngleRad,
} from "../../src/science/irradiance.js";
import { sunPositionOf } from "../../src/science/sun.js";
import published from "../published/sun.json" with { type: "json" };

const near = (actual: number, expected: number, tolerance: number) =>
	expect(Math.abs(actual - expected)).toBeLessThanOrEqual(tolerance);

describe("clear-sky irradiance", () => {
	// Source: Haurwitz 1945, values of an open solar library's tests.
	it.each(published.haurwitz.checks)("is $value W/m² with the sun $zenithDeg° from overhead", ({ zenithDeg, value }) => {
		near(clearSkyIrradianceWPerM2(zenithDeg), value, published.haurwitz.tolerance);
	});
	it("is 0 at and below the horizon, and refuses -1° and 181°", () => {
		expect(clearSkyIrradianceWPerM2(90.001)).toBe(0);
		expect(clearSkyIrradianceWPerM2(180)).toBe(0);
		expect(() => clearSkyIrradianceWPerM2(-1)).toThrow(RangeError);
		expect(() => clearSkyIrradianceWPerM2(181)).toThrow(RangeError);
	});
	it("is cut to a third under full cloud, as FAO-56 cuts the day's sum", () => {
		near(cloudyIrradianceWPerM2(30, 1), 888.271 / 3, 0.01);
		near(cloudyIrradianceWPerM2(30, 0), 888.271, 0.01);
		expect(() => cloudyIrradianceWPerM2(30, 1.1)).toThrow(RangeError);
	});
	const clearDay = (latitudeDeg: number, dayOfYear: number) => {
		const declinationDeg = (declinationRad(dayOfYear) * 180) / Math.PI;
		let joules = 0;
		for (let minute = 0.5; minute < 1440; minute++) {
			joules += 60 * clearSkyIrradianceWPerM2(sunPositionOf(declinationDeg, minute, latitudeDeg).zenithDeg);
		}
		return joules / 1e6;
	};
	// Source: daily integrals with FAO-56's declination, computed independently.
	it.each(published.fao56.more)(
		"adds up to $haurwitzDay MJ/m² on day $dayOfYear at $latitudeDeg°, within 6 % of 0.75 of the sun's above the air",
		({ latitudeDeg, dayOfYear, haurwitzDay }) => {
			const day = clearDay(latitudeDeg, dayOfYear);
			near(day, haurwitzDay, published.fao56.haurwitzDayTolerance);
			near(day / (0.75 * extraterrestrialMJPerM2(latitudeDeg, dayOfYear)), 1, published.fao56.haurwitzTolerance);
		},
	);
});

describe("a day's solar energy", () => {
	// Source: Allen et al. 1998, FAO-56, examples 8, 9 and 10.
	const { example8, example9, example10, more } = published.fao56;
	it("follows example 8: 20° south, 3 September, 32.194 MJ/m² above the air", () => {
		near(distanceFactor(example8.dayOfYear), example8.dr, example8.tolerance);
		near(declinationRad(example8.dayOfYear), example8.declinationRad, example8.tolerance);
		near(sunsetHourAngleRad(example8.latitudeDeg, example8.dayOfYear), example8.sunsetRad, example8.tolerance);
		near(
			extraterrestrialMJPerM2(example8.latitudeDeg, example8.dayOfYear),
			example8.extraterrestrial,
			example8.extraterrestrialTolerance,
		);
	});
	it("follows example 9: 11.666 h of daylight at the same place and day", () => {
		near(daylightHours(example8.latitudeDeg, example8.dayOfYear), example9.daylightHours, example9.tolerance);
	});
	it("follows example 10: 22.9° south, 15 May, 7.1 h of sunshine give 14.460 MJ/m², a clear sky 18.833", () => {
		const { latitudeDeg, dayOfYear, sunshineHours, tolerance } = example10;
		const hours = daylightHours(latitudeDeg, dayOfYear);
		near(extraterrestrialMJPerM2(latitudeDeg, dayOfYear), example10.extraterrestrial, tolerance);
		near(hours, example10.daylightHours, tolerance);
		near(dailyIrradiationMJPerM2(latitudeDeg, dayOfYear, 0, 1 - sunshineHours / hours), example10.irradiation, tolerance);
		near(dailyIrradiationMJPerM2(latitudeDeg, dayOfYear, 0, 0), example10.clearSky, tolerance);
	});
	it.each(more)("is $extraterrestrial MJ/m² above the air on day $dayOfYear at $latitudeDeg°", (row) => {
		near(extraterrestrialMJPerM2(row.latitudeDeg, row.dayOfYear), row.extraterrestrial, row.tolerance);
	});
	it("grows by 2e-5 of the sun above the air a metre of height", () => {
		const atSea = dailyIrradiationMJPerM2(0, 80, 0, 0);
		near(dailyIrradiationMJPerM2(0, 80, 1000, 0) - atSea, 0.02 * extraterrestrialMJPerM2(0, 80), 1e-9);
	});
	it("is 0 in the polar night and has 24 h in the polar day", () => {
		expect(extraterrestrialMJPerM2(80, 355)).toBe(0);
		expect(daylightHours(80, 172)).toBeCloseTo(24, 12);
		expect(daylightHours(-90, 172)).toBe(0);
	});
	it("refuses a latitude of 90.1°, day 0, a height of 6001 m and a cloud fraction of 1.1", () => {
		expect(() => extraterrestrialMJPerM2(90.1, 1)).toThrow(RangeError);
		expect(() => daylightHours(0, 0)).toThrow(RangeError);
		expect(() => dailyIrradiationMJPerM2(0, 1, 6001, 0)).toThrow(RangeError);
		expect(() => dailyIrradiationMJPerM2(0, 1, 0, 1.1)).toThrow(RangeError);
	});
});
