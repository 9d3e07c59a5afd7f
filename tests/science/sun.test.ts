import { equationOfTimeMin, solarDeclinationDeg, sunPositionAt, sunPositionOf } from "../../src/science/sun.js";
import published from "../published/sun.json" with { type: "json" };

const turn = (a: number, b: number) => Math.abs(((a - b + 540) % 360) - 180);

describe("equation of time and declination", () => {
	// Source: Spencer 1971 with NOAA's constant.
	it.each(published.spencer.checks)(
		"are $equationOfTimeMin min and $declinationDeg° at noon of day $dayOfYear",
		({ dayOfYear, equationOfTimeMin: minutes, declinationDeg }) => {
			expect(Math.abs(equationOfTimeMin(dayOfYear) - minutes)).toBeLessThanOrEqual(published.spencer.tolerance);
			expect(Math.abs(solarDeclinationDeg(dayOfYear) - declinationDeg)).toBeLessThanOrEqual(published.spencer.tolerance);
		},
	);
	it("refuse day 0 and 367 and hour 25", () => {
		expect(() => equationOfTimeMin(0)).toThrow(RangeError);
		expect(() => solarDeclinationDeg(367)).toThrow(RangeError);
		expect(() => solarDeclinationDeg(1, 25)).toThrow(RangeError);
	});
});

describe("position of the sun", () => {
	// Source: NREL Solar Position Algorithm, Reda & Andreas 2004.
	it.each(published.spa.checks)(
		"is $zenithDeg° from overhead and $azimuthDeg° from north on $at at $latitudeDeg°, $longitudeDeg°",
		({ at, latitudeDeg, longitudeDeg, zenithDeg, azimuthDeg }) => {
			const sun = sunPositionAt(Date.parse(at), latitudeDeg, longitudeDeg);
			expect(Math.abs(sun.zenithDeg - zenithDeg)).toBeLessThanOrEqual(published.spa.zenithTolerance);
			expect(turn(sun.azimuthDeg, azimuthDeg)).toBeLessThanOrEqual(published.spa.azimuthTolerance);
		},
	);
	it.each(published.spa.checks)(
		"is $spencerZenithDeg° from overhead if the year is counted as Spencer does, from the new year, on $at",
		({ at, latitudeDeg, longitudeDeg, spencerZenithDeg }) => {
			const instant = new Date(at);
			const year = instant.getUTCFullYear();
			const days = (instant.getTime() - Date.UTC(year, 0, 1)) / 86_400_000;
			const moment = [Math.floor(days) + 1, (days % 1) * 24, year % 4 === 0 ? 366 : 365] as const;
			const minutes = moment[1] * 60 + equationOfTimeMin(...moment) + 4 * longitudeDeg;
			const { zenithDeg } = sunPositionOf(solarDeclinationDeg(...moment), minutes, latitudeDeg);
			expect(Math.abs(zenithDeg - spencerZenithDeg)).toBeLessThanOrEqual(published.spa.spencerTolerance);
		},
	);
	// Source: astronomy-engine 2.1.19, an independent ephemeris.
	it("is within 0.2° of an ephemeris at 60 random instants of 1960 to 2090 between 60° north and south", () => {
		const { checks, zenithTolerance, azimuthTolerance } = published.ephemeris;
		expect(checks).toHaveLength(60);
		for (const { at, latitudeDeg, longitudeDeg, zenithDeg, azimuthDeg } of checks) {
			const sun = sunPositionAt(Date.parse(at), latitudeDeg, longitudeDeg);
			expect(Math.abs(sun.zenithDeg - zenithDeg)).toBeLessThanOrEqual(zenithTolerance);
			if (zenithDeg > 10 && zenithDeg < 170) expect(turn(sun.azimuthDeg, azimuthDeg)).toBeLessThanOrEqual(azimuthTolerance);
		}
	});
	it("refuses a latitude of 91°, a longitude of 181° and the year 1949", () => {
		expect(() => sunPositionAt(0, 91, 0)).toThrow(RangeError);
		expect(() => sunPositionAt(0, 0, 181)).toThrow(RangeError);
		expect(() => sunPositionAt(Date.UTC(1949, 11, 31), 0, 0)).toThrow(RangeError);
	});
});
