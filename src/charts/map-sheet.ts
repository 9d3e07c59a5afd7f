import { type PlacedTile, tilesOver, zoomFor } from "../science/map-tiles.js";
import { EARTH_KM, type Ground, mercator } from "../science/mercator.js";
import { rounded } from "./svg.js";

/** A part of the ground on paper: north is up. */
export interface MapSheet {
	/** Units of the drawing. */
	readonly height: number;
	readonly unitsPerKm: number;
	at(ground: Ground): { readonly x: number; readonly y: number };
	/** @returns tiles that cover the sheet, each with its edges in units of the drawing */
	tiles(): readonly SheetTile[];
}

export interface SheetTile {
	readonly tile: PlacedTile;
	readonly left: number;
	readonly top: number;
	readonly right: number;
	readonly bottom: number;
}

export const MAP_WIDTH = 480;
const MARGIN = 40;
/** A single place is shown with so much around it. */
const LEAST_KM = 1;
/** Nobody lives beyond, and the poles lie at no finite place of this map. */
const FARTHEST_DEG = 85;
/** Pictures of odd districts stay between a strip and a square. */
const [FLATTEST, TALLEST] = [0.5, 1];
/** Tiles are 256 pixels wide; drawn smaller than that they stay sharp. */
const WIDEST_TILE = 256;
const RAD = Math.PI / 180;

/** @returns the sheet on which all these points have room; none where there is no point */
export function sheetOf(points: readonly Ground[]): MapSheet | undefined {
	const [first] = points;
	if (!first) return undefined;
	const flatOf = ({ latitudeDeg, longitudeDeg }: Ground) =>
		mercator({ latitudeDeg: Math.min(FARTHEST_DEG, Math.max(-FARTHEST_DEG, latitudeDeg)), longitudeDeg }, first.longitudeDeg);
	const flat = points.map(flatOf);
	const [west, east] = [Math.min(...flat.map(({ x }) => x)), Math.max(...flat.map(({ x }) => x))];
	const [south, north] = [Math.min(...flat.map(({ y }) => y)), Math.max(...flat.map(({ y }) => y))];
	const [middleX, middleY] = [(west + east) / 2, (south + north) / 2];
	const latitudeRad = 2 * Math.atan(Math.exp(middleY)) - Math.PI / 2;
	const kmPerRadius = EARTH_KM * Math.cos(latitudeRad);
	const least = LEAST_KM / kmPerRadius;
	const [wide, tall] = [Math.max(east - west, least), Math.max(north - south, least)];
	const inner = MAP_WIDTH - 2 * MARGIN;
	const ratio = wide === least && tall === least ? FLATTEST : Math.min(TALLEST, Math.max(FLATTEST, tall / wide));
	const height = rounded(inner * ratio + 2 * MARGIN);
	const scale = Math.min(inner / wide, (inner * ratio) / tall);
	const left = (x: number) => MAP_WIDTH / 2 + (x - middleX) * scale;
	const top = (y: number) => height / 2 - (y - middleY) * scale;
	return {
		height,
		unitsPerKm: scale / kmPerRadius,
		at(ground) {
			const { x, y } = flatOf(ground);
			return { x: left(x), y: top(y) };
		},
		tiles() {
			// Tiles are counted from 180° W, the sheet from its first point.
			const fromGreenwich = first.longitudeDeg * RAD;
			const [halfX, halfY] = [MAP_WIDTH / 2 / scale, height / 2 / scale];
			const part = {
				westX: middleX - halfX + fromGreenwich,
				eastX: middleX + halfX + fromGreenwich,
				southY: middleY - halfY,
				northY: middleY + halfY,
			};
			return tilesOver(part, zoomFor(WIDEST_TILE / scale)).map((tile) => {
				const [westX, northY] = [tile.westX - fromGreenwich, tile.northY];
				return {
					...{ tile, left: rounded(left(westX)), top: rounded(top(northY)) },
					...{ right: rounded(left(westX + tile.size)), bottom: rounded(top(northY - tile.size)) },
				};
			});
		},
	};
}
