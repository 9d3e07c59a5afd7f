import type { ScaleLinear } from "d3-scale";
import { area, line } from "d3-shape";
import { COLOURS, STROKES } from "./marks.js";
import type { StrengthWords } from "./strength-words.js";
import { element, label, rounded } from "./svg.js";

/** One day of a strength curve. */
export interface ChartPoint {
	/** Days from the making. */
	readonly day: number;
	readonly medianGPerL: number;
	readonly lowGPerL: number;
	readonly highGPerL: number;
}

/** From days or g/L to places in the picture. */
export type Scale = ScaleLinear<number, number>;

/** @returns band, its edges, the median and the limit over them */
export function curveParts(points: readonly ChartPoint[], limitGPerL: number, x: Scale, y: Scale): string[] {
	const [left, right] = x.range();
	const band = area<ChartPoint>(
		({ day }) => x(day),
		({ lowGPerL }) => y(lowGPerL),
		({ highGPerL }) => y(highGPerL),
	).digits(1);
	const along = (of: (point: ChartPoint) => number) =>
		line<ChartPoint>(
			({ day }) => x(day),
			(point) => y(of(point)),
		).digits(1)([...points]);
	return [
		element("path", { d: band([...points]), fill: COLOURS.band }),
		...gridParts(x, y),
		element("path", { d: along(({ lowGPerL }) => lowGPerL), fill: "none", ...STROKES.edge }),
		element("path", { d: along(({ highGPerL }) => highGPerL), fill: "none", ...STROKES.edge }),
		element("path", { d: along(({ medianGPerL }) => medianGPerL), fill: "none", ...STROKES.median }),
		element("path", { d: `M${left} ${rounded(y(limitGPerL))}H${right}`, fill: "none", ...STROKES.limit }),
	];
}

function gridParts(x: Scale, y: Scale): string[] {
	const [left, right] = x.range();
	return y
		.ticks(TICKS)
		.map((tick) => element("path", { d: `M${left} ${rounded(y(tick))}H${right}`, stroke: COLOURS.grid, "stroke-width": 1 }));
}

const TICKS = 6;

/** @returns ticks with their numbers, the axis of days, and what either axis counts */
export function axisParts(x: Scale, y: Scale, words: StrengthWords): string[] {
	const [left = 0, right = 0] = x.range();
	const [floor = 0] = y.range();
	return [
		label(8, AXIS_NAME_AT, words.strengthAxis),
		...y.ticks(TICKS).map((tick) => label(left - 7, y(tick) + 5, words.number(tick), { "text-anchor": "end" })),
		...x
			.ticks(TICKS)
			.flatMap((tick) => [
				element("path", { d: `M${rounded(x(tick))} ${floor}v5`, stroke: COLOURS.ink, "stroke-width": 1 }),
				label(x(tick), floor + 20, words.number(tick), { "text-anchor": "middle" }),
			]),
		element("path", { d: `M${left} ${floor}H${right}`, stroke: COLOURS.ink, "stroke-width": 1.2 }),
		label((left + right) / 2, floor + 41, words.dayAxis, { "text-anchor": "middle" }),
	];
}

const AXIS_NAME_AT = 50;
