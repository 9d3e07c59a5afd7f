import type { Ground } from "../science/mercator.js";
import { element, rounded } from "./svg.js";

/**
 * Colours of a map. Words keep 4.5 to 1 and marks 3 to 1 against the ground.
 * Source: WCAG 2.2 (W3C 2023), success criteria 1.4.3 and 1.4.11; held by a test.
 */
export const MAP_COLOURS = {
	ink: "#1d2b33",
	paper: "#ffffff",
	ground: "#f6f4ec",
	frame: "#6f7a7f",
	tie: "#8b979c",
	home: "#0b5a78",
	alone: "#a3260f",
	person: "#1d2b33",
	full: "#00463f",
	empty: "#ffffff",
} as const;

/** Told apart by shape as well as by colour: a dot, a cross, a square, a dial. */
export type PlaceMarkKind = "home" | "alone" | "person" | "share";

/** Something at a place. */
export interface PlaceMark extends Ground {
	readonly kind: PlaceMarkKind;
	/** A few letters beside it. */
	readonly label?: string;
	/** Of a dial, 0 to 1; none: nothing is known. */
	readonly share?: number | null;
	/** Of a dial, 0 to 1: what it was counted from beside the largest on the map; the more, the larger. None: of middling size. */
	readonly weight?: number;
}

const RADIUS: Readonly<Record<PlaceMarkKind, number>> = { home: 3.5, alone: 5, person: 6, share: 11 };
const [SMALLEST_DIAL, LARGEST_DIAL] = [7, 17];

/** @returns how far a mark reaches from its middle; the area of a dial grows with its weight */
export function radiusOf({ kind, weight }: Pick<PlaceMark, "kind" | "weight">): number {
	return weight === undefined ? RADIUS[kind] : SMALLEST_DIAL + (LARGEST_DIAL - SMALLEST_DIAL) * Math.sqrt(weight);
}

/** @returns a mark with its middle at (x, y) */
export function markParts(mark: PlaceMark, x: number, y: number): string[] {
	const { kind, share = 0.6 } = mark;
	const [cx, cy] = [rounded(x), rounded(y)];
	const r = rounded(radiusOf(mark));
	if (kind === "home") return [element("circle", { cx, cy, r, fill: MAP_COLOURS.home, stroke: MAP_COLOURS.ground })];
	if (kind === "person")
		return [
			element("rect", {
				x: rounded(x - r),
				y: rounded(y - r),
				width: 2 * r,
				height: 2 * r,
				fill: MAP_COLOURS.person,
				stroke: MAP_COLOURS.ground,
				"stroke-width": 1.5,
			}),
		];
	if (kind === "alone") {
		const cross = `M${rounded(x - r)} ${rounded(y - r)}l${2 * r} ${2 * r}m0 ${-2 * r}l${-2 * r} ${2 * r}`;
		return [element("path", { d: cross, fill: "none", stroke: MAP_COLOURS.alone, "stroke-width": 2.6 })];
	}
	return dialParts(cx, cy, r, share);
}

/** A dial that is filled clockwise from the top, as far as the share goes; one with a dash says nothing. */
function dialParts(cx: number, cy: number, r: number, share: number | null): string[] {
	const rim = element("circle", { cx, cy, r, fill: MAP_COLOURS.empty, stroke: MAP_COLOURS.full, "stroke-width": 2 });
	if (share === null) return [rim, element("path", { d: `M${cx - 4} ${cy}h8`, stroke: MAP_COLOURS.full, "stroke-width": 2 })];
	if (share >= 0.9995)
		return [element("circle", { cx, cy, r, fill: MAP_COLOURS.full, stroke: MAP_COLOURS.full, "stroke-width": 2 })];
	if (share <= 0) return [rim];
	const angle = share * 2 * Math.PI;
	const [ex, ey] = [rounded(cx + r * Math.sin(angle)), rounded(cy - r * Math.cos(angle))];
	const slice = `M${cx} ${cy}V${rounded(cy - r)}A${r} ${r} 0 ${share > 0.5 ? 1 : 0} 1 ${ex} ${ey}Z`;
	return [rim, element("path", { d: slice, fill: MAP_COLOURS.full })];
}
