import { scaleLinear } from "d3-scale";
import { COLOURS, STROKES } from "./marks.js";
import { element, escaped, label, rounded } from "./svg.js";

/** A share by month; none in a month in which nothing was counted. */
export interface MonthlyShare {
	readonly month: string;
	readonly share: number | null;
	readonly low: number | null;
	readonly high: number | null;
}

const WIDTH = 232;
const HEIGHT = 150;
const LEFT = 46;
const RIGHT = 222;
const TOP = 12;
const FLOOR = 118;

/**
 * One share over the months, each with its interval; a line joins months that follow each other.
 * @param months at least one, in order
 * @returns an SVG element without scripts, styles from elsewhere or fonts of its own
 */
export function monthsChartSvg(title: string, months: readonly MonthlyShare[]): string {
	const x = scaleLinear([0, Math.max(months.length - 1, 1)], [LEFT + 8, RIGHT - 8]);
	const y = scaleLinear([0, 1], [FLOOR, TOP]);
	const grid = [0, 0.5, 1].flatMap((tick) => [
		element("path", { d: `M${LEFT} ${rounded(y(tick))}H${RIGHT}`, stroke: COLOURS.grid, "stroke-width": 1 }),
		label(LEFT - 5, y(tick) + 4, `${tick * 100} %`, { "text-anchor": "end" }),
	]);
	const points = months.flatMap(({ share, low, high }, i) =>
		share === null || low === null || high === null ? [] : [{ i, at: x(i), y: y(share), low: y(low), high: y(high) }],
	);
	const lines = points.flatMap((point, n) => {
		const before = points[n - 1];
		if (before === undefined || before.i !== point.i - 1) return [];
		const d = `M${rounded(before.at)} ${rounded(before.y)}L${rounded(point.at)} ${rounded(point.y)}`;
		return [element("path", { d, fill: "none", ...STROKES.median, "stroke-width": 2 })];
	});
	const bars = points.map(({ at, low, high }) =>
		element("path", { d: `M${rounded(at)} ${rounded(low)}V${rounded(high)}`, stroke: "#8fb7c6", "stroke-width": 4 }),
	);
	const dots = points.flatMap(({ at, y: share }, n) => {
		const isLast = n === points.length - 1;
		return element("circle", { cx: at, cy: share, r: isLast ? 4 : 2.6, fill: COLOURS.median });
	});
	const ends = [0, ...(months.length > 1 ? [months.length - 1] : [])].map((i) =>
		label(x(i), FLOOR + 18, months[i]!.month, { "text-anchor": i === 0 ? "start" : "end" }),
	);
	const empty =
		points.length > 0
			? []
			: [
					label((LEFT + RIGHT) / 2, (TOP + FLOOR) / 2 + 4, "nothing was counted", {
						"text-anchor": "middle",
						"font-style": "italic",
					}),
				];
	const parts = [`<title>${escaped(title)}</title>`, ...grid, ...bars, ...lines, ...dots, ...ends, ...empty];
	return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img" font-family="system-ui, sans-serif" font-size="11" fill="${COLOURS.ink}">${parts.join("")}</svg>`;
}
