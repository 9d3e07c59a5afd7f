/** A point on the ground. */
export interface Ground {
	readonly latitudeDeg: number;
	readonly longitudeDeg: number;
}

/** Mean radius of the Earth, km. Source: Moritz (2000), Geodetic Reference System 1980, Journal of Geodesy 74: 6371.0088 */
export const EARTH_KM = 6371.0088;

const RAD = Math.PI / 180;

/**
 * Where a point lies on a map that keeps angles.
 *
 * @param at latitude over -90 and under 90 degrees; longitude, degrees
 * @param middleDeg the longitude in the middle of the map, so that a district on the date line stays whole
 * @returns x to the east and y to the north, in radii of the Earth at the equator; a length there is 1 / cos(latitude) of that on the ground
 * Source: Snyder (1987), Map Projections: A Working Manual, USGS Professional Paper 1395, equations 7-1 and 7-2
 */
export function mercator({ latitudeDeg, longitudeDeg }: Ground, middleDeg: number): { x: number; y: number } {
	const eastDeg = ((((longitudeDeg - middleDeg + 180) % 360) + 360) % 360) - 180;
	return { x: eastDeg * RAD, y: Math.log(Math.tan(Math.PI / 4 + (latitudeDeg * RAD) / 2)) };
}
