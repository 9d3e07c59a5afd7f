import { lettersOn, widthOf } from "./letters.js";
import { MAP_WIDTH } from "./map-sheet.js";
import { MAP_COLOURS, type PlaceMark, radiusOf } from "./place-marks.js";
import { label } from "./svg.js";

interface Placed {
	readonly mark: PlaceMark;
	readonly x: number;
	readonly y: number;
}

interface Box {
	readonly left: number;
	readonly top: number;
	readonly right: number;
	readonly bottom: number;
}

/** A place for a label, and which end of it touches the mark. */
type Spot = Box & { readonly anchor: "start" | "middle" | "end" };

const LETTERS = lettersOn(MAP_WIDTH);
const LINE = LETTERS * 1.2;
/** From the foot of a line to what its letters stand on. */
const FOOT = LINE * 0.25;

/** @returns labels beside their marks, each where it covers no other one; one that fits nowhere is left to the table */
export function placedLabels(placed: readonly Placed[], { width, height }: { width: number; height: number }): string[] {
	const taken: Box[] = placed
		.filter(({ mark }) => mark.label !== undefined)
		.map(({ mark, x, y }) => around(x, y, radiusOf(mark)));
	const parts: string[] = [];
	for (const { mark, x, y } of placed) {
		if (mark.label === undefined) continue;
		const spots = spotsAround(x, y, radiusOf(mark) + 5, widthOf(mark.label, LETTERS, "heavy"));
		const free = spots.find((spot) => isWithin(spot, width, height) && !taken.some((other) => overlap(spot, other)));
		if (!free) continue;
		taken.push(free);
		const { left, right, bottom, anchor } = free;
		const tx = { start: left, middle: (left + right) / 2, end: right }[anchor];
		const rim = { "paint-order": "stroke", stroke: MAP_COLOURS.ground, "stroke-width": 4, "stroke-linejoin": "round" };
		parts.push(label(tx, bottom - FOOT, mark.label, { "text-anchor": anchor, "font-weight": 600, ...rim }));
	}
	return parts;
}

/** Beside, below and above a mark, then aslant; nearest to the reader's habit first. */
function spotsAround(x: number, y: number, reach: number, long: number): Spot[] {
	const [beside, aslant] = [reach, reach * 0.7];
	const start = (from: number, top: number): Spot => ({
		...{ left: from, right: from + long, top, bottom: top + LINE },
		anchor: "start",
	});
	const end = (until: number, top: number): Spot => ({
		...{ left: until - long, right: until, top, bottom: top + LINE },
		anchor: "end",
	});
	const middle = (top: number): Spot => ({
		...{ left: x - long / 2, right: x + long / 2, top, bottom: top + LINE },
		anchor: "middle",
	});
	return [
		...[start(x + beside, y - LINE / 2), end(x - beside, y - LINE / 2), middle(y + reach), middle(y - reach - LINE)],
		...[start(x + aslant, y + aslant), start(x + aslant, y - aslant - LINE)],
		...[end(x - aslant, y + aslant), end(x - aslant, y - aslant - LINE)],
	];
}

const around = (x: number, y: number, r: number): Box => ({ left: x - r, top: y - r, right: x + r, bottom: y + r });

const isWithin = ({ left, top, right, bottom }: Box, width: number, height: number): boolean =>
	left >= 2 && top >= 2 && right <= width - 2 && bottom <= height - 2;

const overlap = (a: Box, b: Box): boolean => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
