import { scaleLinear } from "d3-scale";
import { COLOURS, onLight, STROKES } from "./marks.js";
import { element, escaped, label, rounded } from "./svg.js";

/** A share with its interval; all of 0 to 1. */
export interface ChartShare {
	readonly name: string;
	/** None: nothing was counted. */
	readonly share: number | null;
	readonly low: number | null;
	readonly high: number | null;
	/** What it was counted from, in a few letters. */
	readonly counted: string;
	/** Which end is wanted. */
	readonly wanted: "more" | "less";
}

const WIDTH = 780;
const LEFT = 350;
const RIGHT = 650;
const ROW = 26;
const TOP = 34;

/**
 * Shares one below the other, each with its 95 % interval as a bar; what should be little has a hollow mark.
 * @param described in one sentence, for who can't see the picture
 * @returns an SVG element without scripts, styles from elsewhere or fonts of its own
 */
export function shareChartSvg(title: string, described: string, shares: readonly ChartShare[]): string {
	const x = scaleLinear([0, 1], [LEFT, RIGHT]);
	const floor = TOP + shares.length * ROW;
	const height = floor + 56;
	const grid = [0, 0.2, 0.4, 0.6, 0.8, 1].flatMap((tick) => [
		element("path", { d: `M${rounded(x(tick))} ${TOP - 6}V${floor}`, stroke: COLOURS.grid, "stroke-width": 1 }),
		label(x(tick), floor + 18, `${Math.round(tick * 100)} %`, { "text-anchor": "middle" }),
	]);
	const parts = [
		`<title>${escaped(title)}</title>`,
		`<desc>${escaped(described)}</desc>`,
		element("rect", { width: WIDTH, height, fill: COLOURS.paper }),
		label(RIGHT + 14, TOP - 12, "counted"),
		...grid,
		...shares.flatMap((share, i) => rowParts(share, TOP + i * ROW + ROW / 2, x)),
		...legend(floor + 44),
	];
	return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDTH} ${height}" role="img" font-family="system-ui, sans-serif" font-size="13" fill="${COLOURS.ink}">\n${parts.join("\n")}\n</svg>`;
}

function rowParts({ name, share, low, high, counted, wanted }: ChartShare, y: number, x: (share: number) => number): string[] {
	const named = label(LEFT - 12, y + 4, name, { "text-anchor": "end" });
	if (share === null || low === null || high === null)
		return [named, label(LEFT + 8, y + 4, "nothing was counted", { "font-style": "italic" }), label(RIGHT + 14, y + 4, counted)];
	return [
		named,
		...onLight(`M${rounded(x(low))} ${y}H${rounded(x(high))}`, { ...STROKES.median, "stroke-width": 2.4 }),
		mark(x(share), y, wanted),
		label(RIGHT + 14, y + 4, counted),
	];
}

function mark(x: number, y: number, wanted: "more" | "less"): string {
	return element("circle", {
		...{ cx: x, cy: y, r: 5, stroke: COLOURS.median, "stroke-width": 2 },
		fill: wanted === "more" ? COLOURS.median : COLOURS.paper,
	});
}

function legend(y: number): string[] {
	return [
		mark(LEFT + 5, y - 4, "more"),
		label(LEFT + 16, y, "more is wanted"),
		mark(LEFT + 135, y - 4, "less"),
		label(LEFT + 146, y, "less is wanted"),
		...onLight(`M${LEFT + 250} ${y - 4}h26`, { ...STROKES.median, "stroke-width": 2.4 }),
		label(LEFT + 282, y, "95 % interval"),
	];
}
