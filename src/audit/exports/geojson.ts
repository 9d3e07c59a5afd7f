import type { CoverageReport } from "../coverage/coverage.js";

/** Where an area is drawn. */
export interface AreaPlace {
	readonly code: string;
	readonly latitudeDeg: number;
	readonly longitudeDeg: number;
}

/**
 * @param places of the report's areas; households' places are personal and no part of it
 * @returns the areas as points with their figures, as GeoJSON text
 * Source: RFC 7946: longitude before latitude (3.1.1), WGS 84 and no other (4), bbox west, south, east, north (5), seven digits at most (11.2)
 */
export function figuresGeoJson(report: CoverageReport, places: readonly AreaPlace[]): string {
	const placeOf = new Map(places.map((place) => [place.code, place]));
	const features = report.areas.map(({ code, name, parentCode, figures }) => {
		const place = placeOf.get(code);
		return {
			type: "Feature",
			id: code,
			geometry: place ? { type: "Point", coordinates: positionOf(place) } : null,
			properties: {
				...{ code, name, parentCode, from: report.period.from, to: report.period.to },
				figures: Object.fromEntries(figures.map(({ indicator, ...figure }) => [indicator, figure])),
			},
		};
	});
	const bbox = boxAround(features.flatMap(({ geometry }) => (geometry ? [geometry.coordinates] : [])));
	return `${JSON.stringify({ type: "FeatureCollection", ...(bbox && { bbox }), features })}\n`;
}

type Position = readonly [number, number];

const positionOf = ({ latitudeDeg, longitudeDeg }: AreaPlace): Position => [rounded(longitudeDeg), rounded(latitudeDeg)];

/** About a metre: an area's point isn't known more closely. */
const rounded = (degrees: number): number => Math.round(degrees * 1e5) / 1e5;

/**
 * @returns west, south, east, north; where the points lie closer together across 180° than across 0°, west is greater than east (RFC 7946, 5.2)
 */
function boxAround(positions: readonly Position[]): readonly [number, number, number, number] | undefined {
	if (positions.length === 0) return undefined;
	const latitudes = positions.map(([, latitude]) => latitude);
	const longitudes = positions.map(([longitude]) => longitude).sort((a, b) => a - b);
	let [west, east] = [longitudes[0]!, longitudes.at(-1)!];
	let gap = 360 - (east - west);
	for (let i = 1; i < longitudes.length; i++) {
		const between = longitudes[i]! - longitudes[i - 1]!;
		if (between > gap) [gap, west, east] = [between, longitudes[i]!, longitudes[i - 1]!];
	}
	return [west, Math.min(...latitudes), east, Math.max(...latitudes)];
}
