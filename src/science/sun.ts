import { MS_PER_DAY } from "./units.js";
import { valueWithin } from "./valid-range.js";

const RAD = Math.PI / 180;
const TROPICAL_YEAR_DAYS = 365.2422;

/** Where the sun stands, in degrees: zenith 0 overhead to 180, without refraction; azimuth from north through east, 0 to 360. */
export interface SunPosition {
	readonly zenithDeg: number;
	readonly azimuthDeg: number;
}

/** Angle of the year in radians. Source: Spencer 1971, with NOAA's fraction of the day and 366 days in a leap year. */
const yearAngle = (dayOfYear: number, hour: number, daysOfYear: number): number =>
	((2 * Math.PI) / daysOfYear) *
	(valueWithin("day of year", dayOfYear, 1, 366) - 1 + (valueWithin("hour", hour, 0, 24) - 12) / 24);

function equationOfTimeAt(angle: number): number {
	const once = 0.001868 * Math.cos(angle) - 0.032077 * Math.sin(angle);
	return 229.18 * (0.000075 + once - 0.014615 * Math.cos(2 * angle) - 0.040849 * Math.sin(2 * angle));
}

function declinationAt(angle: number): number {
	const once = -0.399912 * Math.cos(angle) + 0.070257 * Math.sin(angle);
	const twice = -0.006758 * Math.cos(2 * angle) + 0.000907 * Math.sin(2 * angle);
	return 0.006918 + once + twice - 0.002697 * Math.cos(3 * angle) + 0.00148 * Math.sin(3 * angle);
}

/**
 * How far sundial time is ahead of clock time.
 *
 * @param dayOfYear 1 to 366
 * @param hour 0 to 24, UTC
 * @param daysOfYear 365, or 366 in a leap year
 * @returns minutes, -14.3 to 16.4
 * @throws RangeError outside these ranges
 *
 * Source: Spencer 1971, Search 2(5):172, with the constant 0.000075 of NOAA's sheet (Spencer's print has 0.0000075: 0.015 min).
 */
export const equationOfTimeMin = (dayOfYear: number, hour = 12, daysOfYear: 365 | 366 = 365): number =>
	equationOfTimeAt(yearAngle(dayOfYear, hour, daysOfYear));

/**
 * Declination of the sun.
 *
 * @param dayOfYear 1 to 366
 * @param hour 0 to 24, UTC
 * @param daysOfYear 365, or 366 in a leap year
 * @returns degrees, -23.5 to 23.5
 * @throws RangeError outside these ranges
 *
 * Source: Spencer 1971, Search 2(5):172.
 */
export const solarDeclinationDeg = (dayOfYear: number, hour = 12, daysOfYear: 365 | 366 = 365): number =>
	declinationAt(yearAngle(dayOfYear, hour, daysOfYear)) / RAD;

/**
 * Position of the sun for a declination and a true solar time.
 *
 * @param declinationDeg -23.5 to 23.5°
 * @param trueSolarMinutes minutes on the sundial, 720 at noon; any number of days may be added
 * @param latitudeDeg -90 to 90°, north positive
 * @returns zenith angle and azimuth; the azimuth means little when the sun is overhead
 * @throws RangeError for a declination or a latitude outside its range
 *
 * Source: spherical trigonometry of the horizon.
 */
export function sunPositionOf(declinationDeg: number, trueSolarMinutes: number, latitudeDeg: number): SunPosition {
	const declination = valueWithin("declination in degrees", declinationDeg, -23.5, 23.5) * RAD;
	const latitude = valueWithin("latitude in degrees", latitudeDeg, -90, 90) * RAD;
	const hourAngle = (trueSolarMinutes / 4 - 180) * RAD;
	const meridian = Math.cos(declination) * Math.cos(hourAngle);
	const up = Math.sin(latitude) * Math.sin(declination) + Math.cos(latitude) * meridian;
	const north = Math.cos(latitude) * Math.sin(declination) - Math.sin(latitude) * meridian;
	const east = -Math.cos(declination) * Math.sin(hourAngle);
	return {
		zenithDeg: Math.acos(Math.min(1, Math.max(-1, up))) / RAD,
		azimuthDeg: (Math.atan2(east, north) / RAD + 360) % 360,
	};
}

/**
 * Position of the sun in the sky, within 0.2° of the zenith angle.
 *
 * @param atMs epoch milliseconds, the years 1950 to 2100
 * @param latitudeDeg -90 to 90°, north positive
 * @param longitudeDeg -180 to 180°, east positive
 * @returns zenith angle and azimuth, without refraction
 * @throws RangeError outside these ranges
 *
 * Source: Spencer 1971, with the angle of the year counted in tropical years from 2000: counted from each new year, as Spencer
 * does, the leap days make it up to 0.6° wrong. True solar time = UTC + equation of time + 4 min/°.
 */
export function sunPositionAt(atMs: number, latitudeDeg: number, longitudeDeg: number): SunPosition {
	const at = valueWithin("instant in ms", atMs, Date.UTC(1950, 0, 1), Date.UTC(2101, 0, 1));
	const longitude = valueWithin("longitude in degrees", longitudeDeg, -180, 180);
	const days = (at - Date.UTC(2000, 0, 1)) / MS_PER_DAY;
	const angle = (2 * Math.PI * days) / TROPICAL_YEAR_DAYS;
	const utcMinutes = (days - Math.floor(days)) * 1440;
	return sunPositionOf(declinationAt(angle) / RAD, utcMinutes + equationOfTimeAt(angle) + 4 * longitude, latitudeDeg);
}
