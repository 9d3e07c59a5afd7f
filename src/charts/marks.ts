import { element, rounded } from "./svg.js";

/**
 * Colours of a strength chart. Words keep 4.5 to 1 and lines 3 to 1 against paper and band.
 * Source: WCAG 2.2 (W3C 2023), success criteria 1.4.3 and 1.4.11; held by a test.
 */
export const COLOURS = {
	ink: "#1d2b33",
	paper: "#ffffff",
	band: "#dcebf1",
	grid: "#c3ced3",
	median: "#0b5a78",
	limit: "#a3260f",
	test: "#5b3a8c",
} as const;

/** A stroke as SVG attributes. */
export type Stroke = Readonly<Record<string, string | number>>;

/** Lines by what they mean: each has dashes or a width of its own, so that they are told apart without colour. */
export const STROKES = {
	median: { stroke: COLOURS.median, "stroke-width": 3 },
	edge: { stroke: COLOURS.median, "stroke-width": 1.3, "stroke-dasharray": "2 3" },
	limit: { stroke: COLOURS.limit, "stroke-width": 2.2, "stroke-dasharray": "10 5" },
	test: { stroke: COLOURS.test, "stroke-width": 2.4 },
	today: { stroke: COLOURS.ink, "stroke-width": 1.2 },
	retest: { stroke: COLOURS.ink, "stroke-width": 1.6, "stroke-dasharray": "7 3 1.5 3" },
} as const satisfies Readonly<Record<string, Stroke>>;

/** @returns a line with a light rim, which keeps it apart from what it crosses */
export function onLight(path: string, stroke: Stroke): string[] {
	const rim = { stroke: COLOURS.paper, "stroke-width": Number(stroke["stroke-width"]) + 2.5 };
	return [element("path", { d: path, fill: "none", ...rim }), element("path", { d: path, fill: "none", ...stroke })];
}

/** @returns the outline of what a test said: a bar with a cap at either end; an arrow where it has no upper end */
export function testBar(x: number, low: number, high: number, isOpen: boolean): string {
	const [at, from, to] = [rounded(x), rounded(low), rounded(high)];
	const end = isOpen
		? `M${rounded(at - 5)} ${rounded(to + 8)}L${at} ${to}L${rounded(at + 5)} ${rounded(to + 8)}`
		: `M${rounded(at - 5)} ${to}h10`;
	return `M${rounded(at - 5)} ${from}h10M${at} ${from}V${to}${end}`;
}

/** @returns a line from top to floor with a sign of its own at the top: a triangle for today, a diamond for the retest day */
export function dayMark(kind: "today" | "retest", x: number, top: number, floor: number): string[] {
	return [
		element("path", { d: `M${rounded(x)} ${top}V${floor}`, fill: "none", ...STROKES[kind] }),
		element("path", { d: signOutline(kind, x, top), fill: COLOURS.ink }),
	];
}

/** @returns the outline of a day's sign, its lowest point at (x, y) */
export function signOutline(kind: "today" | "retest", x: number, y: number): string {
	const at = `M${rounded(x)} ${rounded(y)}`;
	return kind === "today" ? `${at}l-6 -10h12z` : `${at}l-6 -6l6 -6l6 6z`;
}
