import type { MapTile } from "../science/map-tiles.js";
import type { Ground } from "../science/mercator.js";
import { lettersOn, widthOf } from "./letters.js";
import { MAP_WIDTH, type MapSheet, sheetOf } from "./map-sheet.js";
import { placedLabels } from "./place-labels.js";
import { MAP_COLOURS, markParts, type PlaceMark, type PlaceMarkKind } from "./place-marks.js";
import { element, escaped, label, rounded } from "./svg.js";

/** Places of a district as plain values. */
export interface PlaceMap {
	readonly title: string;
	/** In one sentence, for who can't see the picture. */
	readonly description: string;
	/** What is drawn first lies under what comes after it. */
	readonly marks: readonly PlaceMark[];
	/** Thin lines, from whom to what is looked after. */
	readonly ties: readonly (readonly [Ground, Ground])[];
	readonly legend: readonly { readonly kind: PlaceMarkKind; readonly words: string }[];
	/** A length in words, for the scale. */
	readonly km: (km: number) => string;
	readonly north: string;
	/** Where a picture of the ground is; none: nothing is asked of another machine. */
	readonly tileAddress?: ((tile: MapTile) => string) | undefined;
}

const WIDTH = MAP_WIDTH;
const LETTERS = lettersOn(WIDTH);
const LEGEND_ROW = 28;
const [LEGEND_AT, WORDS_AT] = [12, 30];
/** What lies beneath stays paler than what is told. */
const TILE_OPACITY = 0.6;

/**
 * Households, people or areas where they lie: north is up, and a bar tells lengths. It is whole by itself; tiles, where there are any,
 * lie beneath and may stay away.
 *
 * @returns an SVG document without scripts, styles from elsewhere or fonts of its own; none where no place is known
 */
export function placeMapSvg(map: PlaceMap): string | undefined {
	const { marks, ties, legend } = map;
	const sheet = sheetOf([...marks, ...ties.flat()]);
	if (!sheet) return undefined;
	const { height, unitsPerKm } = sheet;
	const at = (ground: Ground) => sheet.at(ground);
	const fits = legend.every(({ words }) => WORDS_AT + widthOf(words, LETTERS) <= WIDTH / 2 - LEGEND_AT);
	const columns = fits ? 2 : 1;
	const legendRows = Math.ceil(legend.length / columns);
	const full = height + 38 + legendRows * LEGEND_ROW;
	const placed = marks.map((mark) => ({ mark, ...at(mark) }));
	const parts = [
		`<title>${escaped(map.title)}</title>`,
		`<desc>${escaped(map.description)}</desc>`,
		element("rect", { width: WIDTH, height: full, fill: MAP_COLOURS.paper }),
		element("rect", { x: 0.5, y: 0.5, width: WIDTH - 1, height, fill: MAP_COLOURS.ground, stroke: MAP_COLOURS.frame }),
		...tileParts(sheet, map),
		...ties.map(([from, to]) => {
			const [a, b] = [at(from), at(to)];
			return element("path", { d: `M${rounded(a.x)} ${rounded(a.y)}L${rounded(b.x)} ${rounded(b.y)}`, stroke: MAP_COLOURS.tie });
		}),
		...placed.flatMap(({ mark, x, y }) => markParts(mark, x, y)),
		...placedLabels(placed, { width: WIDTH, height }),
		...scaleParts(unitsPerKm, height + 20, map),
		...legend.flatMap(({ kind, words }, i) => {
			const [x, y] = [LEGEND_AT + (i % columns) * (WIDTH / 2), height + 50 + Math.floor(i / columns) * LEGEND_ROW];
			return [...markParts({ kind, latitudeDeg: 0, longitudeDeg: 0 }, x + 10, y), label(x + WORDS_AT, y + 6, words)];
		}),
	];
	return `<svg xmlns="http://www.w3.org/2000/svg" class="map" viewBox="0 0 ${WIDTH} ${rounded(full)}" role="img" font-family="system-ui, sans-serif" font-size="${LETTERS}" fill="${MAP_COLOURS.ink}">\n${parts.join("\n")}\n</svg>\n`;
}

/** @returns pictures of the ground within the frame, edge to edge */
function tileParts(sheet: MapSheet, { tileAddress }: PlaceMap): string[] {
	if (!tileAddress) return [];
	const images = sheet.tiles().map(({ tile, left, top, right, bottom }) => {
		const href = tileAddress(tile);
		return element("image", { href, x: left, y: top, width: right - left, height: bottom - top, preserveAspectRatio: "none" });
	});
	const frame = {
		x: 1,
		y: 1,
		width: WIDTH - 2,
		height: sheet.height - 1,
		viewBox: `1 1 ${WIDTH - 2} ${rounded(sheet.height - 1)}`,
	};
	return [element("svg", { class: "tiles", opacity: TILE_OPACITY, ...frame }, ...images)];
}

function scaleParts(unitsPerKm: number, y: number, { km, north }: Pick<PlaceMap, "km" | "north">): string[] {
	const most = WIDTH / 4 / unitsPerKm;
	const power = 10 ** Math.floor(Math.log10(most));
	const length = ([5, 2, 1].find((times) => times * power <= most) ?? 1) * power;
	const end = 12 + length * unitsPerKm;
	return [
		element("path", {
			d: `M12 ${y - 5}v10M12 ${y}H${rounded(end)}M${rounded(end)} ${y - 5}v10`,
			fill: "none",
			stroke: MAP_COLOURS.ink,
		}),
		label(rounded(end) + 8, y + 6, km(length)),
		element("path", { d: `M${WIDTH - 20} ${y + 8}v-16m-5 6l5 -6l5 6`, fill: "none", stroke: MAP_COLOURS.ink }),
		label(WIDTH - 32, y + 6, north, { "text-anchor": "end" }),
	];
}
