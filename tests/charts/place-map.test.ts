import { XMLParser, XMLValidator } from "fast-xml-parser";
import { areaMarks } from "../../src/charts/area-marks.js";
import { type PlaceMap, placeMapSvg } from "../../src/charts/place-map.js";
import { MAP_COLOURS, type PlaceMark } from "../../src/charts/place-marks.js";
import published from "../published/map.json" with { type: "json" };

const home = (latitudeDeg: number, longitudeDeg: number): PlaceMark => ({ latitudeDeg, longitudeDeg, kind: "home" });
const map = (marks: readonly PlaceMark[], over: Partial<PlaceMap> = {}) =>
	placeMapSvg({
		title: "Households & people",
		description: "One degree of land.",
		marks,
		ties: [],
		legend: [],
		km: (km) => `${km} km`,
		north: "N",
		...over,
	});

interface Drawn {
	readonly title: string;
	readonly desc: string;
	readonly circle: { readonly cx: number; readonly cy: number }[];
	readonly text: { readonly "#text": string; readonly x: number; readonly y: number }[];
	readonly path: { readonly d: string }[];
	/** Where the tiles are. */
	readonly svg?: {
		readonly image: {
			readonly href: string;
			readonly x: number;
			readonly y: number;
			readonly width: number;
			readonly height: number;
		}[];
	};
}

function drawn(svg: string): Drawn {
	expect(XMLValidator.validate(svg)).toBe(true);
	const isArray = (name: string) => ["circle", "text", "path", "image"].includes(name);
	return new XMLParser({ ignoreAttributes: false, attributeNamePrefix: "", parseAttributeValue: true, isArray }).parse(svg).svg;
}

describe("a map of places", () => {
	it("has north up and east to the right, and as far apart north as east where the ground is", () => {
		const { circle } = drawn(map([home(0, 0), home(0.1, 0), home(0, 0.1)])!);
		const [middle, north, east] = circle;
		expect(north!.cx).toBe(middle!.cx);
		expect(north!.cy).toBeLessThan(middle!.cy);
		expect(east!.cx - middle!.cx).toBeCloseTo(middle!.cy - north!.cy, 0);
	});

	it("draws a scale that is true: 11.12 km between two places of 0.1° are 11.12 times its kilometre", () => {
		const { circle, text, path } = drawn(map([home(0, 0), home(0, 0.1)])!);
		const km = Number(/^(\d+) km$/.exec(text[0]!["#text"])![1]);
		const bar = path.map(({ d }) => /^M12 \S+v10M12 \S+H([\d.]+)M/.exec(d)?.[1]).find((end) => end !== undefined);
		const unitsPerKm = (Number(bar) - 12) / km;
		// Source: a degree of a great circle is 111.195 km on a sphere of 6371.0088 km.
		expect((circle[1]!.cx - circle[0]!.cx) / unitsPerKm).toBeCloseTo(11.12, 1);
	});

	it("keeps everything within the picture, a place at the pole and a single one too", () => {
		for (const marks of [[home(89.9, 10), home(-89.9, -170)], [home(-1.5, 37)]])
			for (const { cx, cy } of drawn(map(marks)!).circle) {
				expect(cx).toBeGreaterThanOrEqual(0);
				expect(cx).toBeLessThanOrEqual(480);
				expect(cy).toBeGreaterThanOrEqual(0);
				expect(Number.isFinite(cy)).toBe(true);
			}
	});

	it("draws nothing where no place is known", () => {
		expect(map([])).toBeUndefined();
	});

	it("puts no label over another, and leaves out the one that fits nowhere", () => {
		const crowd = Array.from({ length: 12 }, (_, i): PlaceMark => ({ ...home(i * 1e-6, 0), kind: "person", label: `V-00${i}` }));
		const { text } = drawn(map([...crowd, home(0.01, 0.01)])!);
		const labels = text.filter((one) => String(one["#text"]).startsWith("V-"));
		expect(labels.length).toBeGreaterThan(0);
		expect(labels.length).toBeLessThan(12);
		for (const [i, one] of labels.entries())
			for (const other of labels.slice(i + 1)) expect(Math.abs(one.x - other.x) + Math.abs(one.y - other.y)).toBeGreaterThan(10);
	});

	it("says its title and description to whoever doesn't see it", () => {
		const { title, desc } = drawn(map([home(0, 0)])!);
		expect([title.replace("&#38;", "&"), desc]).toEqual(["Households & people", "One degree of land."]);
	});

	it("has the tiles exactly under the places: the corners of 10/486/332 lie on the corners of its tiles", () => {
		const { northDeg, westDeg, southDeg, eastDeg } = published.tile;
		const [northWest, southEast] = [home(northDeg, westDeg), home(southDeg, eastDeg)];
		const svg = map([northWest, southEast], { tileAddress: ({ z, x, y }) => `https://tiles.example.org/${z}/${x}/${y}.png` })!;
		const { circle, svg: within } = drawn(svg);
		const tiles = within!.image.map(({ href, ...image }) => {
			const [z = 0, x = 0, y = 0] = /(\d+)\/(\d+)\/(\d+)\.png$/.exec(href)!.slice(1).map(Number);
			return { ...image, z, column: x, row: y };
		});
		const finer = 2 ** (tiles[0]!.z - 10);
		const at = (column: number, row: number) => tiles.find((tile) => tile.column === column && tile.row === row)!;
		const first = at(486 * finer, 332 * finer);
		const last = at(487 * finer - 1, 333 * finer - 1);
		const [one, other] = circle as [Drawn["circle"][0], Drawn["circle"][0]];
		for (const [tile, place] of [
			[{ x: first.x, y: first.y }, one],
			[{ x: last.x + last.width, y: last.y + last.height }, other],
		] as const) {
			expect(Math.abs(tile.x - place.cx)).toBeLessThan(0.15);
			expect(Math.abs(tile.y - place.cy)).toBeLessThan(0.15);
		}
		// They cover the frame, and none is drawn larger than its 256 pixels.
		expect(Math.min(...tiles.map(({ x }) => x))).toBeLessThanOrEqual(0);
		expect(Math.max(...tiles.map(({ x, width }) => x + width))).toBeGreaterThanOrEqual(480);
		expect(Math.max(...tiles.map(({ width }) => width))).toBeLessThanOrEqual(256.1);
	});

	it("asks nothing of another machine where no tiles are named, and draws the same without them", () => {
		const marks = [home(-1.5, 37), home(-1.52, 37.02)];
		const without = map(marks)!;
		expect(without).not.toMatch(/image|href/);
		const tiled = map(marks, { tileAddress: () => "https://tiles.example.org/a&b.png" })!;
		expect(drawn(tiled).circle).toEqual(drawn(without).circle);
		expect(tiled.replace(/<svg class="tiles".*?<\/svg>\n/s, "")).toBe(without);
	});

	it("keeps places on both sides of 180° beside each other, west of it on the left", () => {
		const [west, east] = drawn(map([home(-17, 179.9), home(-17, -179.9)])!).circle;
		expect(west!.cx).toBeLessThan(east!.cx);
		expect(east!.cx - west!.cx).toBeLessThanOrEqual(400.1);
	});

	it("gives areas of which more was counted a larger dial, below the smaller ones", () => {
		const area = (code: string, denominator: number) => ({ code, latitudeDeg: -1, longitudeDeg: 37, share: 0, denominator });
		const marks = areaMarks([area("few", 5), area("many", 80), area("none", 0)], (share) => `${share * 100} %`);
		expect(marks.map(({ label }) => label)).toEqual(["many 0 %", "few 0 %", "none 0 %"]);
		const radii = [...map(marks)!.matchAll(/ r="([\d.]+)"/g)].map(([, r]) => Number(r));
		expect(radii[0]).toBeGreaterThan(radii[1]!);
		expect(radii[1]).toBeGreaterThan(radii[2]!);
	});

	// Source: WCAG 2.2 (W3C 2023), relative luminance and contrast ratio; 1.4.3 asks 4.5 to 1 for words, 1.4.11 3 to 1 for graphics.
	it("keeps 4.5 to 1 for words and 3 to 1 for every mark on the ground", () => {
		const luminance = (hex: string) => {
			const [r = 0, g = 0, b = 0] = [1, 3, 5].map((at) => {
				const part = Number.parseInt(hex.slice(at, at + 2), 16) / 255;
				return part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
			});
			return 0.2126 * r + 0.7152 * g + 0.0722 * b;
		};
		const contrast = (one: string) => (luminance(MAP_COLOURS.ground) + 0.05) / (luminance(one) + 0.05);
		expect(contrast(MAP_COLOURS.ink)).toBeGreaterThan(4.5);
		for (const mark of [MAP_COLOURS.home, MAP_COLOURS.alone, MAP_COLOURS.person, MAP_COLOURS.full])
			expect(contrast(mark)).toBeGreaterThan(3);
	});
});
