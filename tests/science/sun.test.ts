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

describe("a day of the sun (NREL's worked case, Reda & Andreas 2004)", () => {
	const day = published.spaDay;
	const startMs = Date.parse(day.midnight);
	const at = (hours: number) => sunPositionAt(startMs + hours * 3_600_000, day.latitudeDeg, day.longitudeDeg);

	/** Hour between two at which a falling or rising quantity passes 0. */
	function hourOfZero(of: (hours: number) => number, from: number, until: number): number {
		let [low, high] = [from, until];
		while (high - low > 1e-5) {
			const middle = (low + high) / 2;
			if (of(low) * of(middle) <= 0) high = middle;
			else low = middle;
		}
		return (low + high) / 2;
	}

	// 0.3° of zenith, the tolerance of this sun position, is 0.027 h where the sun climbs 11° an hour.
	it("rises at 6.212 h, stands in the south at 11.768 h and sets at 17.314 h", () => {
		const overHorizon = (hours: number) => day.horizonZenithDeg - at(hours).zenithDeg;
		expect(Math.abs(hourOfZero(overHorizon, 3, 11) - day.sunriseH)).toBeLessThanOrEqual(day.toleranceH);
		expect(Math.abs(hourOfZero(overHorizon, 13, 21) - day.sunsetH)).toBeLessThanOrEqual(day.toleranceH);
		const transitH = hourOfZero((hours) => at(hours).azimuthDeg - 180, 9, 15);
		expect(Math.abs(transitH - day.transitH)).toBeLessThanOrEqual(day.toleranceH);
	});

	it("falls at 25.187° on a slope of 30° that looks 10° east of south", () => {
		const { zenithDeg, azimuthDeg } = sunPositionAt(Date.parse(day.instant), day.latitudeDeg, day.longitudeDeg);
		const rad = Math.PI / 180;
		const [zenith, slope, between] = [zenithDeg * rad, day.slopeDeg * rad, (azimuthDeg - day.slopeAzimuthDeg) * rad];
		const incidence =
			Math.acos(Math.cos(zenith) * Math.cos(slope) + Math.sin(zenith) * Math.sin(slope) * Math.cos(between)) / rad;
		expect(Math.abs(incidence - day.incidenceDeg)).toBeLessThanOrEqual(day.toleranceDeg);
	});
});
