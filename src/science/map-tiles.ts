import type { Ground } from "./mercator.js";

/** A square of the map of the world that is cut into 2^z by 2^z of them: x to the east from 180° W, y to the south. */
export interface MapTile {
	readonly z: number;
	readonly x: number;
	readonly y: number;
}

/** A tile with where its north-western corner lies and how wide it is, in radii of the Earth at the equator as `mercator` has them. */
export interface PlacedTile extends MapTile {
	readonly westX: number;
	readonly northY: number;
	readonly size: number;
}

/** A part of that map, in the same radii; it may reach over the date line. */
export interface MapPart {
	readonly westX: number;
	readonly eastX: number;
	readonly southY: number;
	readonly northY: number;
}

/** Nobody serves finer ones. Common practice, no source. */
export const FINEST_Z = 19;

/**
 * The tiles that cover a part of the map.
 *
 * @param z 0 (the whole world in one) to 19; each step halves a tile
 * @returns every tile that the part touches, by rows from the north; none north or south of what the square map shows (85.0511°)
 * Source: OGC 17-083r4 (2022), Two Dimensional Tile Matrix Set, annexes D.1 (WebMercatorQuad) and I (tiles that cover a bounding box)
 */
export function tilesOver({ westX, eastX, southY, northY }: MapPart, z: number): PlacedTile[] {
	const across = 2 ** z;
	const size = (2 * Math.PI) / across;
	const column = (x: number) => Math.floor((x + Math.PI) / size);
	const row = (y: number) => Math.min(across - 1, Math.max(0, Math.floor((Math.PI - y) / size)));
	const tiles: PlacedTile[] = [];
	for (let y = row(northY); y <= row(southY); y++)
		for (let x = column(westX); x <= column(eastX); x++)
			tiles.push({
				z,
				x: ((x % across) + across) % across,
				y,
				westX: x * size - Math.PI,
				northY: Math.PI - y * size,
				size,
			});
	return tiles;
}

/** @returns the coarsest zoom at which a tile is at most so wide, in the radii of `tilesOver`; 0 to 19 */
export function zoomFor(mostSize: number): number {
	return Math.min(FINEST_Z, Math.max(0, Math.ceil(Math.log2((2 * Math.PI) / mostSize) - 1e-9)));
}

/** @returns the north-western corner of a tile. Source: Snyder (1987), USGS Professional Paper 1395, equations 7-4 and 7-5 with x and y of `mercator` */
export function cornerOf({ z, x, y }: MapTile): Ground {
	const size = (2 * Math.PI) / 2 ** z;
	const latitudeRad = Math.PI / 2 - 2 * Math.atan(Math.exp(-(Math.PI - y * size)));
	return { latitudeDeg: (latitudeRad * 180) / Math.PI, longitudeDeg: ((x * size - Math.PI) * 180) / Math.PI };
}
