import { scaleLinear } from "d3-scale";
import { COLOURS } from "./marks.js";
import { pictureSvg } from "./picture.js";
import { element, label, rounded } from "./svg.js";

/** How often intervals of one width held what they were said to hold. */
export interface ReliabilityPoint {
	/** 0 to 1. */
	readonly saidShare: number;
	/** 0 to 1. */
	readonly heldShare: number;
}

export interface ReliabilityLine {
	readonly name: string;
	readonly points: readonly ReliabilityPoint[];
}

export interface ReliabilityChart {
	readonly title: string;
	/** In one sentence, for who can't see the picture. */
	readonly description: string;
	/** Up to four, each told apart by its dashes. */
	readonly lines: readonly ReliabilityLine[];
}

const WIDTH = 420;
const LEFT = 52;
const RIGHT = 400;
const TOP = 44;
const FLOOR = 392;
const LEGEND = 446;
const ROW = 22;
const DASHES = ["", "8 4", "2 3", "9 3 2 3"] as const;

/**
 * What intervals were said to hold against what they held; on the diagonal both are the same.
 * @returns an SVG document
 * @throws RangeError for no line, more than four, or a share outside 0 to 1
 */
export function reliabilityChartSvg(chart: ReliabilityChart): string {
	const { lines } = chart;
	if (lines.length === 0 || lines.length > DASHES.length)
		throw new RangeError(`a reliability chart takes 1 to ${DASHES.length} lines, got ${lines.length}`);
	const shares = lines.flatMap(({ points }) => points.flatMap(({ saidShare, heldShare }) => [saidShare, heldShare]));
	if (!shares.every((share) => share >= 0 && share <= 1)) throw new RangeError("shares must be 0 to 1");
	const x = scaleLinear([0, 1], [LEFT, RIGHT]);
	const y = scaleLinear([0, 1], [FLOOR, TOP]);
	const ticks = [0, 0.2, 0.4, 0.6, 0.8, 1];
	const percent = (share: number) => `${Math.round(share * 100)}`;
	const path = (points: readonly ReliabilityPoint[]) =>
		`M${points.map(({ saidShare, heldShare }) => `${rounded(x(saidShare))} ${rounded(y(heldShare))}`).join("L")}`;
	const parts = [
		...ticks.map((tick) =>
			element("path", { d: `M${LEFT} ${rounded(y(tick))}H${RIGHT}`, stroke: COLOURS.grid, "stroke-width": 1 }),
		),
		...ticks.map((tick) => label(LEFT - 7, y(tick) + 4, percent(tick), { "text-anchor": "end" })),
		...ticks.map((tick) => label(x(tick), FLOOR + 18, percent(tick), { "text-anchor": "middle" })),
		element("path", { d: `M${LEFT} ${FLOOR}L${RIGHT} ${TOP}`, stroke: COLOURS.limit, "stroke-width": 1.5, fill: "none" }),
		label((LEFT + RIGHT) / 2, FLOOR + 38, "the interval was said to hold, %", { "text-anchor": "middle" }),
		label(12, TOP - 4, "held, %"),
		...lines.flatMap(({ points }, i) => [
			element("path", {
				d: path(points),
				stroke: COLOURS.median,
				"stroke-width": 2,
				fill: "none",
				"stroke-dasharray": DASHES[i] || null,
			}),
			...points.map(({ saidShare, heldShare }) =>
				element("circle", { cx: x(saidShare), cy: y(heldShare), r: 2.5, fill: COLOURS.median }),
			),
		]),
		...lines.flatMap(({ name }, i) => [
			element("path", {
				...{ d: `M${LEFT} ${LEGEND + i * ROW}h34`, stroke: COLOURS.median, "stroke-width": 2, fill: "none" },
				"stroke-dasharray": DASHES[i] || null,
			}),
			label(LEFT + 44, LEGEND + i * ROW + 4, name),
		]),
	];
	return pictureSvg({ ...chart, width: WIDTH, height: LEGEND + lines.length * ROW }, parts);
}
