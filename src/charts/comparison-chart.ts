import { scaleLinear } from "d3-scale";
import { COLOURS } from "./marks.js";
import { pictureSvg } from "./picture.js";
import { element, label, rounded } from "./svg.js";

/** One row of a panel: a figure and the interval around it. */
export interface ComparedRow {
	readonly name: string;
	readonly value: number;
	readonly low: number;
	readonly high: number;
}

/** One measure, by which the rows are compared. */
export interface ComparedPanel {
	/** Up to about 60 letters. */
	readonly name: string;
	readonly rows: readonly ComparedRow[];
}

export interface ComparisonChart {
	readonly title: string;
	/** In one sentence, for who can't see the picture. */
	readonly description: string;
	readonly panels: readonly ComparedPanel[];
}

const WIDTH = 560;
const LEFT = 130;
const RIGHT = 500;
const TOP = 44;
const NAME = 22;
const ROW = 21;
const AXIS = 30;

/**
 * Several measures of the same rows below one another: a bar from nothing to the figure, a whisker for its interval, the figure beside it.
 * @param chart figures of 0 and more, intervals around them
 * @returns an SVG document
 * @throws RangeError for no panel, a panel without rows, or a number that isn't finite or below 0
 */
export function comparisonChartSvg(chart: ComparisonChart): string {
	const { panels } = chart;
	if (panels.length === 0 || panels.some(({ rows }) => rows.length === 0))
		throw new RangeError("a comparison needs a panel, and a row in each");
	const numbers = panels.flatMap(({ rows }) => rows.flatMap(({ value, low, high }) => [value, low, high]));
	if (!numbers.every((number) => Number.isFinite(number) && number >= 0))
		throw new RangeError("a comparison takes finite numbers of 0 and more");
	let top = TOP;
	const parts = panels.flatMap((panel) => {
		const drawn = panelParts(panel, top);
		top += NAME + panel.rows.length * ROW + AXIS;
		return drawn;
	});
	return pictureSvg({ ...chart, width: WIDTH, height: top }, parts);
}

function panelParts({ name, rows }: ComparedPanel, top: number): string[] {
	const highest = Math.max(1e-9, ...rows.map(({ value, high }) => Math.max(value, high)));
	const x = scaleLinear([0, highest], [LEFT, RIGHT]).nice(5);
	const [from, floor] = [top + NAME, top + NAME + rows.length * ROW];
	const ticks = x.ticks(5);
	return [
		label(8, top + 14, name, { "font-weight": 600 }),
		...ticks.map((tick) =>
			element("path", { d: `M${rounded(x(tick))} ${from}V${floor}`, stroke: COLOURS.grid, "stroke-width": 1 }),
		),
		...ticks.map((tick) => label(x(tick), floor + 15, x.tickFormat(5)(tick), { "text-anchor": "middle", "font-size": 11 })),
		...rows.flatMap(({ name: row, value, low, high }, i) => {
			const y = from + i * ROW + ROW / 2;
			const [a, b] = [rounded(x(low)), rounded(x(high))];
			return [
				label(LEFT - 8, y + 4, row, { "text-anchor": "end" }),
				element("rect", { x: LEFT, y: y - 6, width: x(value) - LEFT, height: 12, fill: COLOURS.median, "fill-opacity": 0.55 }),
				element("path", {
					d: `M${a} ${y}H${b}M${a} ${y - 4}v8M${b} ${y - 4}v8`,
					stroke: COLOURS.ink,
					"stroke-width": 1.6,
					fill: "none",
				}),
				label(Math.max(x(value), x(high)) + 6, y + 4, shown(value), { "font-size": 11 }),
			];
		}),
	];
}

const shown = (value: number): string =>
	value >= 100 ? String(Math.round(value)) : String(Number(value.toPrecision(value >= 10 ? 3 : 2)));
