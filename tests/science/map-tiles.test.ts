import { cornerOf, type MapPart, tilesOver, zoomFor } from "../../src/science/map-tiles.js";
import { mercator } from "../../src/science/mercator.js";
import published from "../published/map.json" with { type: "json" };
import { expectNear } from "./near.js";

describe("tiles of the map of the world", () => {
	const { pseudoMercator, tile } = published;

	it("lie on the projection of EPSG:3857: 24°22'54.433\"N, 100°20'W is -11169055.58 m east and 2800000.00 m north (IOGP 373-7-2)", () => {
		const { radiusM, eastM, northM, tolerance } = pseudoMercator;
		const degrees = ([whole = 0, minutes = 0, seconds = 0]: number[]) =>
			Math.sign(whole) * (Math.abs(whole) + minutes / 60 + seconds / 3600);
		const at = { latitudeDeg: degrees(pseudoMercator.latitudeDeg), longitudeDeg: degrees(pseudoMercator.longitudeDeg) };
		const { x, y } = mercator(at, 0);
		expectNear(x * radiusM, eastM, tolerance);
		expectNear(y * radiusM, northM, tolerance);
	});

	it("have the corners of a published example: 10/486/332 reaches from 53.3309° N, 9.1406° W to 53.1204° N, 8.7891° W", () => {
		const { z, x, y, toleranceDeg, toleranceM } = tile;
		const northWest = cornerOf({ z, x, y });
		expectNear(northWest.latitudeDeg, tile.northDeg, toleranceDeg);
		expectNear(northWest.longitudeDeg, tile.westDeg, toleranceDeg);
		const southEast = cornerOf({ z, x: x + 1, y: y + 1 });
		expectNear(southEast.latitudeDeg, tile.southDeg, toleranceDeg);
		expectNear(southEast.longitudeDeg, tile.eastDeg, toleranceDeg);
		const [placed] = tilesOver(middle, z);
		const metres = (radii: number) => radii * pseudoMercator.radiusM;
		expectNear(metres(placed!.westX), tile.leftM, toleranceM);
		expectNear(metres(placed!.northY), tile.topM, toleranceM);
		expectNear(metres(placed!.westX + placed!.size), tile.rightM, toleranceM);
		expectNear(metres(placed!.northY - placed!.size), tile.bottomM, toleranceM);
	});

	it("are found again from a point in them, and so is the one above (the same example)", () => {
		const numbers = (z: number) => tilesOver(middle, z).map(({ x, y }) => ({ z, x, y }));
		expect(numbers(tile.z)).toEqual([{ z: tile.z, x: tile.x, y: tile.y }]);
		expect(numbers(tile.parent.z)).toEqual([tile.parent]);
	});

	it("cover the whole world by one at zoom 0, by four at zoom 1, and nothing beyond 85.0511° (OGC 17-083r4, annex D.1)", () => {
		const world: MapPart = { westX: -Math.PI + 1e-9, eastX: Math.PI - 1e-9, southY: -10, northY: 10 };
		expect(tilesOver(world, 0).map(({ x, y }) => [x, y])).toEqual([[0, 0]]);
		expect(tilesOver(world, 1).map(({ x, y }) => [x, y])).toEqual([
			[0, 0],
			[1, 0],
			[0, 1],
			[1, 1],
		]);
		expect(cornerOf({ z: 0, x: 0, y: 0 }).latitudeDeg).toBeCloseTo(85.0511287798066, 10);
	});

	it("go on over the date line: west of it the last column, east of it the first", () => {
		const edge = Math.PI;
		const tiles = tilesOver({ westX: edge - 0.001, eastX: edge + 0.001, southY: 0.1, northY: 0.1001 }, 4);
		expect(tiles.map(({ x }) => x)).toEqual([15, 0]);
		expect(tiles[1]!.westX).toBeCloseTo(edge, 12);
	});

	it("are as fine as it takes for none to be wider than asked: half a tile asks for the next zoom", () => {
		const world = 2 * Math.PI;
		expect([world, world / 2, world / 2.001, world / 1024, world / 2 ** 30].map(zoomFor)).toEqual([0, 1, 2, 10, 19]);
	});
});

/** A point within the tile of the example. */
const middle = partOf(53.2, -9);

function partOf(latitudeDeg: number, longitudeDeg: number): MapPart {
	const { x, y } = mercator({ latitudeDeg, longitudeDeg }, 0);
	return { westX: x, eastX: x, southY: y, northY: y };
}
