import { valueWithin } from "./valid-range.js";

/** A visit as a phone recorded it. */
export interface TimedVisit {
	readonly visitedAtMs: number;
	/** Left out when the phone gave no position. */
	readonly position?: { readonly latitudeDeg: number; readonly longitudeDeg: number; readonly accuracyM?: number };
}

/** What is odd between a visit and the one before it: to be checked, it proves nothing. */
export interface OddInterval {
	/** Index of the later visit in the order of time. */
	readonly index: number;
	readonly reason: "tooFast" | "tooSoon" | "sameMinute";
	readonly minutes: number;
	/** Speed that the distance less both inaccuracies asks for, km/h; null without positions. */
	readonly speedKmPerH: number | null;
}

/** Limits of what is possible; each may be the programme's own. */
export interface VisitLimits {
	/** Fastest way between households, km/h, 3 to 120. Default 7: a hard walk; set it higher where volunteers ride. */
	readonly fastestKmPerH?: number;
	/** Shortest visit with a test, min, 0 to 60. Default 3. */
	readonly shortestMinutes?: number;
}

const EARTH_RADIUS_KM = 6371;
const radians = (degrees: number): number => (degrees * Math.PI) / 180;

/**
 * Distance of two positions along the ground.
 *
 * @param a latitude -90 to 90, longitude -180 to 180 degrees
 * @param b the other
 * @returns km
 * @throws RangeError outside these ranges
 * Source: haversine formula, mean radius 6371 km.
 */
export function distanceKm(
	a: { readonly latitudeDeg: number; readonly longitudeDeg: number },
	b: { readonly latitudeDeg: number; readonly longitudeDeg: number },
): number {
	for (const { latitudeDeg, longitudeDeg } of [a, b]) {
		valueWithin("latitude in degrees", latitudeDeg, -90, 90);
		valueWithin("longitude in degrees", longitudeDeg, -180, 180);
	}
	const half = (degrees: number): number => Math.sin(radians(degrees) / 2) ** 2;
	const along =
		half(b.latitudeDeg - a.latitudeDeg) +
		Math.cos(radians(a.latitudeDeg)) * Math.cos(radians(b.latitudeDeg)) * half(b.longitudeDeg - a.longitudeDeg);
	return 2 * EARTH_RADIUS_KM * Math.asin(Math.min(1, Math.sqrt(along)));
}

/**
 * Intervals between visits that no one can have walked or worked in.
 *
 * @param visits of one volunteer; positions and their accuracy (0 to 10 000 m, default 30) are used where they are there
 * @param limits fastest way and shortest visit
 * @returns the odd intervals in the order of time, the gravest reason of each: the same minute, too fast, too soon
 * @throws RangeError outside these ranges
 * Visits that were written on paper and entered together look the same: ask how they were entered before anything else.
 */
export function oddIntervals(visits: readonly TimedVisit[], limits: VisitLimits = {}): OddInterval[] {
	const fastest = valueWithin("fastest way in km/h", limits.fastestKmPerH ?? 7, 3, 120);
	const shortest = valueWithin("shortest visit in min", limits.shortestMinutes ?? 3, 0, 60);
	const ordered = [...visits].sort((a, b) => a.visitedAtMs - b.visitedAtMs);
	const odd: OddInterval[] = [];
	for (const [i, visit] of ordered.entries()) {
		const before = ordered[i - 1];
		if (!before) continue;
		const minutes = (visit.visitedAtMs - before.visitedAtMs) / 60_000;
		const speedKmPerH = speedBetween(before, visit, minutes);
		if (minutes < 1) odd.push({ index: i, reason: "sameMinute", minutes, speedKmPerH });
		else if (speedKmPerH !== null && speedKmPerH > fastest) odd.push({ index: i, reason: "tooFast", minutes, speedKmPerH });
		else if (minutes < shortest) odd.push({ index: i, reason: "tooSoon", minutes, speedKmPerH });
	}
	return odd;
}

function speedBetween(before: TimedVisit, visit: TimedVisit, minutes: number): number | null {
	if (!before.position || !visit.position || minutes <= 0) return null;
	const inaccuracyM = [before.position, visit.position].reduce(
		(sum, { accuracyM }) => sum + valueWithin("accuracy of the position in m", accuracyM ?? 30, 0, 10_000),
		0,
	);
	return (Math.max(0, distanceKm(before.position, visit.position) - inaccuracyM / 1000) / minutes) * 60;
}
