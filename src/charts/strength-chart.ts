import { scaleLinear } from "d3-scale";
import { area, line } from "d3-shape";
import { element, escaped, label } from "./svg.js";

/** One day of a strength curve. */
export interface ChartPoint {
	/** Days from the making. */
	readonly day: number;
	readonly medianGPerL: number;
	readonly lowGPerL: number;
	readonly highGPerL: number;
}

/** What a test said by itself. */
export interface ChartTest {
	readonly day: number;
	readonly lowGPerL: number;
	/** Infinity where the reading was off the top of the scale. */
	readonly highGPerL: number;
}

/** A jar's strength over its life, as plain values. */
export interface StrengthChart {
	readonly title: string;
	/** In one sentence, for who can't see the picture. */
	readonly description: string;
	/** By day, at least two. */
	readonly points: readonly ChartPoint[];
	readonly tests: readonly ChartTest[];
	readonly limitGPerL: number;
	readonly todayDay: number;
	/** None: no test is asked for. */
	readonly retestDay: number | null;
}

const WIDTH = 720;
const HEIGHT = 400;
const LEFT = 56;
const RIGHT = 20;
const TOP = 58;
const BOTTOM = 52;
// Told apart without colour too: the limit is dashed, today and the retest day are dotted and named, tests are bars with caps.
const INK = "#1d2b33";
const BAND = "#b9d4df";
const LINE = "#0b5a78";
const LIMIT = "#a3260f";
const TEST = "#5b3a8c";

/**
 * A jar's strength as a picture: median and 90 % interval by day, the usable limit, what each test said, today and the retest day.
 *
 * @param chart plain values; strengths in g/L as Cl2, days from the making
 * @returns an SVG document without scripts, styles from elsewhere or fonts of its own
 * @throws RangeError for fewer than two points
 */
export function strengthChartSvg(chart: StrengthChart): string {
	const { points, tests, limitGPerL } = chart;
	const first = points[0];
	const last = points.at(-1);
	if (!first || !last || points.length < 2)
		throw new RangeError(`a strength chart needs two points or more, got ${points.length}`);
	const finiteTops = tests.map(({ lowGPerL, highGPerL }) => (Number.isFinite(highGPerL) ? highGPerL : lowGPerL * 1.15));
	const highest = Math.max(limitGPerL, ...points.map(({ highGPerL }) => highGPerL), ...finiteTops);
	const x = scaleLinear([first.day, last.day], [LEFT, WIDTH - RIGHT]);
	const y = scaleLinear([0, highest * 1.04], [HEIGHT - BOTTOM, TOP]).nice(6);
	const top = y.domain()[1] as number;
	const band = area<ChartPoint>(
		({ day }) => x(day),
		({ lowGPerL }) => y(lowGPerL),
		({ highGPerL }) => y(highGPerL),
	)([...points]);
	const median = line<ChartPoint>(
		({ day }) => x(day),
		({ medianGPerL }) => y(medianGPerL),
	)([...points]);
	const parts = [
		`<title>${escaped(chart.title)}</title>`,
		`<desc>${escaped(chart.description)}</desc>`,
		element("rect", { width: WIDTH, height: HEIGHT, fill: "#ffffff" }),
		label(LEFT, 24, chart.title, { "font-size": 17, "font-weight": 600 }),
		...legend(),
		...grid(x, y),
		element("path", { d: rounded(band ?? ""), fill: BAND }),
		element("path", { d: rounded(median ?? ""), fill: "none", stroke: LINE, "stroke-width": 2.5 }),
		element("path", {
			d: `M${LEFT} ${round(y(limitGPerL))}H${WIDTH - RIGHT}`,
			stroke: LIMIT,
			"stroke-width": 1.8,
			"stroke-dasharray": "9 5",
		}),
		label(WIDTH - RIGHT - 4, y(limitGPerL) + 16, `usable limit ${limitGPerL} g/L`, {
			fill: LIMIT,
			"text-anchor": "end",
			...OVER,
		}),
		...tests.map((test) => testBar(test, x, y, top)),
		...marks(chart, x, first.day, last.day),
	];
	return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img" font-family="system-ui, sans-serif" font-size="13" fill="${INK}">\n${parts.join("\n")}\n</svg>\n`;
}

type Scale = ReturnType<typeof scaleLinear<number, number>>;

/** A light rim keeps words readable where they lie over lines. */
const OVER = { stroke: "#ffffff", "stroke-width": 4, "paint-order": "stroke" } as const;

function legend(): string[] {
	const at = 44;
	return [
		element("path", { d: `M${LEFT} ${at - 4}h26`, stroke: LINE, "stroke-width": 2.5 }),
		label(LEFT + 32, at, "expected"),
		element("rect", { x: LEFT + 104, y: at - 11, width: 26, height: 12, fill: BAND }),
		label(LEFT + 136, at, "90 % interval"),
		element("path", { d: `M${LEFT + 240} ${at - 11}v12m-5 0h10m-10 -12h10`, stroke: TEST, "stroke-width": 2, fill: "none" }),
		label(LEFT + 254, at, "what a test said"),
	];
}

function grid(x: Scale, y: Scale): string[] {
	const floor = HEIGHT - BOTTOM;
	return [
		...y
			.ticks(6)
			.flatMap((tick) => [
				element("path", { d: `M${LEFT} ${round(y(tick))}H${WIDTH - RIGHT}`, stroke: "#d9e0e3", "stroke-width": 1 }),
				label(LEFT - 8, y(tick) + 4, String(tick), { "text-anchor": "end" }),
			]),
		...x.ticks(8).map((tick) => label(x(tick), floor + 18, String(tick), { "text-anchor": "middle" })),
		element("path", { d: `M${LEFT} ${floor}H${WIDTH - RIGHT}`, stroke: INK, "stroke-width": 1 }),
		label((LEFT + WIDTH - RIGHT) / 2, HEIGHT - 12, "days since it was made", { "text-anchor": "middle" }),
		label(0, 0, "available chlorine, g/L", {
			transform: `translate(16 ${(TOP + floor) / 2}) rotate(-90)`,
			"text-anchor": "middle",
		}),
	];
}

function testBar({ day, lowGPerL, highGPerL }: ChartTest, x: Scale, y: Scale, top: number): string {
	const [at, low] = [round(x(day)), round(y(lowGPerL))];
	const open = !Number.isFinite(highGPerL);
	const high = round(y(open ? top : highGPerL));
	const end = open ? `M${at - 5} ${high + 8}L${at} ${high}L${at + 5} ${high + 8}` : `M${at - 5} ${high}h10`;
	return element("path", { d: `M${at - 5} ${low}h10M${at} ${low}V${high}${end}`, stroke: TEST, "stroke-width": 2, fill: "none" });
}

function marks({ todayDay, retestDay }: StrengthChart, x: Scale, from: number, until: number): string[] {
	const mark = (day: number, words: string, height: number): string[] => {
		const nearEnd = x(day) > WIDTH - 150;
		return [
			element("path", {
				d: `M${round(x(day))} ${TOP}V${HEIGHT - BOTTOM}`,
				stroke: INK,
				"stroke-width": 1.4,
				"stroke-dasharray": "2 4",
			}),
			label(x(day) + (nearEnd ? -6 : 6), HEIGHT - BOTTOM - height, words, { "text-anchor": nearEnd ? "end" : "start", ...OVER }),
		];
	};
	return [
		...(todayDay > from && todayDay <= until ? mark(todayDay, "today", 10) : []),
		...(retestDay !== null && retestDay <= until ? mark(retestDay, `test again, day ${retestDay.toFixed(1)}`, 28) : []),
	];
}

const round = (value: number): number => Math.round(value * 10) / 10;
const rounded = (path: string): string => path.replace(/\d+\.\d+/g, (number) => String(round(Number(number))));
