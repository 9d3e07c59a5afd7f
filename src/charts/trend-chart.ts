import { scaleLinear } from "d3-scale";
import { lettersOn, widthOf } from "./letters.js";
import { COLOURS, onLight, STROKES } from "./marks.js";
import { element, escaped, label, rounded } from "./svg.js";

/** A share in one month, with its interval; none where nothing was counted. */
export interface TrendPoint {
	/** Under the axis, a few letters. */
	readonly name: string;
	readonly share: number | null;
	readonly low: number | null;
	readonly high: number | null;
}

export interface TrendChart {
	readonly title: string;
	readonly description: string;
	/** In order of time, at least one. */
	readonly points: readonly TrendPoint[];
	readonly percent: (share: number) => string;
	/** What the bars are, beside one of them. */
	readonly interval: string;
}

const [WIDTH, HEIGHT, LEFT, RIGHT, TOP, FLOOR] = [480, 318, 66, 464, 20, 238];
const LETTERS = lettersOn(WIDTH);
/** Between names of months in one line. */
const GAP = 6;

/**
 * A share month by month: a dot with its interval for each, joined where months follow one another.
 * A month in which nothing was counted leaves a gap: nothing is drawn over what nobody knows.
 *
 * @returns an SVG document without scripts, styles from elsewhere or fonts of its own
 */
export function trendChartSvg({ title, description, points, percent, interval }: TrendChart): string {
	const x = scaleLinear(
		[0, Math.max(1, points.length - 1)],
		points.length > 1 ? [LEFT + 24, RIGHT - 24] : [(LEFT + RIGHT) / 2, RIGHT],
	);
	const y = scaleLinear([0, 1], [FLOOR, TOP]);
	const known = points.flatMap(({ share, low, high }, i) =>
		share === null ? [] : [{ i, share, low: low ?? share, high: high ?? share }],
	);
	const halves = points.map(({ name }) => widthOf(name, LETTERS) / 2);
	const isCrowded = halves.some((half, i) => i > 0 && x(i) - x(i - 1) < half + (halves[i - 1] as number) + GAP);
	/** A name stands under its month, unless the picture ends there. */
	const under = (i: number) => Math.min(WIDTH - 2 - (halves[i] as number), Math.max(2 + (halves[i] as number), x(i)));
	const joins = known.flatMap(({ i, share }, at) => {
		const next = known[at + 1];
		return next?.i === i + 1 ? [`M${rounded(x(i))} ${rounded(y(share))}L${rounded(x(next.i))} ${rounded(y(next.share))}`] : [];
	});
	const parts = [
		`<title>${escaped(title)}</title>`,
		`<desc>${escaped(description)}</desc>`,
		element("rect", { width: WIDTH, height: HEIGHT, fill: COLOURS.paper }),
		...[0, 0.25, 0.5, 0.75, 1].flatMap((tick) => [
			element("path", { d: `M${LEFT} ${rounded(y(tick))}H${RIGHT}`, stroke: tick === 0 ? COLOURS.ink : COLOURS.grid }),
			label(LEFT - 7, y(tick) + 6, percent(tick), { "text-anchor": "end" }),
		]),
		...points.map(({ name }, i) =>
			label(under(i), FLOOR + (i % 2 === 1 && isCrowded ? 44 : 22), name, { "text-anchor": "middle" }),
		),
		...joins.map((d) => element("path", { d, fill: "none", ...STROKES.median })),
		...known.flatMap(({ i, low, high }) => onLight(whisker(x(i), y(low), y(high)), STROKES.test)),
		...known.map(({ i, share }) =>
			element("circle", {
				cx: rounded(x(i)),
				cy: rounded(y(share)),
				r: 5,
				fill: COLOURS.median,
				stroke: COLOURS.paper,
				"stroke-width": 1.5,
			}),
		),
		...onLight(whisker(LEFT + 8, HEIGHT - 8, HEIGHT - 24), STROKES.test),
		label(LEFT + 22, HEIGHT - 11, interval),
	];
	return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img" font-family="system-ui, sans-serif" font-size="${LETTERS}" fill="${COLOURS.ink}">\n${parts.join("\n")}\n</svg>\n`;
}

function whisker(x: number, low: number, high: number): string {
	const at = rounded(x);
	return `M${rounded(at - 4)} ${rounded(low)}h8M${at} ${rounded(low)}V${rounded(high)}M${rounded(at - 4)} ${rounded(high)}h8`;
}
