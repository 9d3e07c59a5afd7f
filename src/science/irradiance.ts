import { valueWithin } from "./valid-range.js";

const RAD = Math.PI / 180;

/**
 * Global irradiance under a clear sky on level ground.
 *
 * @param zenithDeg zenith angle of the sun, 0 to 180°
 * @returns W/m²; 0 when the sun is at or below the horizon
 * @throws RangeError outside 0 to 180°
 *
 * Source: Haurwitz 1945, J. Meteorol. 2:154-166, as open solar libraries give it (0.059; some reports print 0.057).
 */
export function clearSkyIrradianceWPerM2(zenithDeg: number): number {
	const cosZenith = Math.cos(valueWithin("zenith angle in degrees", zenithDeg, 0, 180) * RAD);
	return cosZenith <= 0 ? 0 : 1098 * cosZenith * Math.exp(-0.059 / cosZenith);
}

/** Sun-earth distance factor dr of a day of the year, 1 to 366. Source: FAO-56, Allen et al. 1998, eq. 23. */
export const distanceFactor = (dayOfYear: number): number => 1 + 0.033 * Math.cos((2 * Math.PI * dayOfYear) / 365);

/** Declination of the sun in radians of a day of the year, 1 to 366. Source: FAO-56, Allen et al. 1998, eq. 24. */
export const declinationRad = (dayOfYear: number): number => 0.409 * Math.sin((2 * Math.PI * dayOfYear) / 365 - 1.39);

/**
 * Hour angle of the sun at sunset.
 *
 * @param latitudeDeg -90 to 90°, north positive
 * @param dayOfYear 1 to 366
 * @returns radians, 0 in polar night to π in polar day
 * @throws RangeError outside these ranges
 *
 * Source: FAO-56, Allen et al. 1998, eq. 25.
 */
export function sunsetHourAngleRad(latitudeDeg: number, dayOfYear: number): number {
	const latitude = valueWithin("latitude in degrees", latitudeDeg, -90, 90) * RAD;
	const declination = declinationRad(valueWithin("day of year", dayOfYear, 1, 366));
	return Math.acos(Math.min(1, Math.max(-1, -Math.tan(latitude) * Math.tan(declination))));
}

/** Longest possible sunshine of a day in hours. Source: FAO-56, Allen et al. 1998, eq. 34. */
export const daylightHours = (latitudeDeg: number, dayOfYear: number): number =>
	(24 * sunsetHourAngleRad(latitudeDeg, dayOfYear)) / Math.PI;

/**
 * Solar energy of a day above the atmosphere on level ground.
 *
 * @param latitudeDeg -90 to 90°, north positive
 * @param dayOfYear 1 to 366
 * @returns Ra in MJ/(m² day), at least 0
 * @throws RangeError outside these ranges
 *
 * Source: FAO-56, Allen et al. 1998, eq. 21.
 */
export function extraterrestrialMJPerM2(latitudeDeg: number, dayOfYear: number): number {
	const sunset = sunsetHourAngleRad(latitudeDeg, dayOfYear);
	const latitude = latitudeDeg * RAD;
	const declination = declinationRad(dayOfYear);
	const path =
		sunset * Math.sin(latitude) * Math.sin(declination) + Math.cos(latitude) * Math.cos(declination) * Math.sin(sunset);
	return Math.max(0, ((24 * 60) / Math.PI) * 0.082 * distanceFactor(dayOfYear) * path);
}

/**
 * Solar energy of a day on level ground under the month's usual cloud.
 *
 * Rs = (0.25 + (0.50 + 2e-5·z)·(1 - cloud))·Ra: for a cloudless day it is FAO-56 eq. 37, at sea level eq. 35.
 *
 * @param latitudeDeg -90 to 90°, north positive
 * @param dayOfYear 1 to 366
 * @param altitudeM height above the sea, -430 to 6000 m
 * @param cloudFraction mean share of the daylight without sun, 1 - n/N, 0 to 1
 * @returns Rs in MJ/(m² day)
 * @throws RangeError outside these ranges
 *
 * Source: FAO-56, Allen et al. 1998, eq. 35 and 37.
 */
export function dailyIrradiationMJPerM2(
	latitudeDeg: number,
	dayOfYear: number,
	altitudeM: number,
	cloudFraction: number,
): number {
	const height = valueWithin("altitude in m", altitudeM, -430, 6000);
	const sunshine = 1 - valueWithin("cloud fraction", cloudFraction, 0, 1);
	return (0.25 + (0.5 + 2e-5 * height) * sunshine) * extraterrestrialMJPerM2(latitudeDeg, dayOfYear);
}

/**
 * Global irradiance on level ground under cloud, at one moment.
 *
 * @param zenithDeg zenith angle of the sun, 0 to 180°
 * @param cloudFraction mean share of the daylight without sun, 0 to 1
 * @returns W/m²: the clear-sky value times (0.25 + 0.50·(1 - cloud))/0.75
 * @throws RangeError outside these ranges
 *
 * Source: Haurwitz 1945 and the ratio of FAO-56 eq. 35 to its clear sky; right on the mean of many days, not for one moment.
 */
export function cloudyIrradianceWPerM2(zenithDeg: number, cloudFraction: number): number {
	const sunshine = 1 - valueWithin("cloud fraction", cloudFraction, 0, 1);
	return (clearSkyIrradianceWPerM2(zenithDeg) * (0.25 + 0.5 * sunshine)) / 0.75;
}
