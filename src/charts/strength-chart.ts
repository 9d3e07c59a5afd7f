import { scaleLinear } from "d3-scale";
import { axisParts, type ChartPoint, curveParts, type Scale } from "./curve.js";
import { legendHeight, legendParts, type Named } from "./legend.js";
import { lettersOn } from "./letters.js";
import { COLOURS, dayMark, onLight, STROKES, testBar } from "./marks.js";
import { STRENGTH_IN_ENGLISH, type StrengthWords } from "./strength-words.js";
import { element, escaped, label, rounded } from "./svg.js";

/** What a test said by itself. */
export interface ChartTest {
	readonly day: number;
	readonly lowGPerL: number;
	/** Infinity where the reading was off the top of the scale. */
	readonly highGPerL: number;
}

/** A jar's strength over its life, as plain values. */
export interface StrengthChart {
	/** Up to about 46 letters stay within the picture. */
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
	/** What stands beside it, where that isn't to be English. */
	readonly words?: StrengthWords;
}

const WIDTH = 420;
const LETTERS = lettersOn(WIDTH);
const LEFT = 46;
const RIGHT = 404;
const TOP = 74;
const FLOOR = 280;
const LEGEND_AT = 346;
/** Signs of two days that lie closer than this are put one above the other. */
const SIGN_WIDTH = 14;
/** Width at which it is shown where nothing else sets one, px. */
const SHOWN_WIDTH = 540;

/**
 * A jar's strength as a picture: median and 90 % interval by day, the usable limit, what each test said, today and the retest day.
 * Everything is told apart by dashes and shapes as well as by colour, and named in a legend, so that no words lie over a line.
 *
 * @param chart plain values; strengths in g/L as Cl2, at least 0, days from the making
 * @returns an SVG document without scripts, styles from elsewhere or fonts of its own
 * @throws RangeError for fewer than two points, days that don't rise, or a number that isn't finite where it must be
 */
export function strengthChartSvg(chart: StrengthChart): string {
	const { points, tests, limitGPerL, todayDay, retestDay, words = STRENGTH_IN_ENGLISH } = chart;
	const [from, until] = drawnDays(chart);
	const tops = tests.map(({ lowGPerL, highGPerL }) => (highGPerL === Number.POSITIVE_INFINITY ? lowGPerL * 1.15 : highGPerL));
	const highest = Math.max(limitGPerL, ...points.map(({ highGPerL }) => highGPerL), ...tops);
	const x = scaleLinear([from, until], [LEFT, RIGHT]);
	const y = scaleLinear([0, highest * 1.04], [FLOOR, TOP]).nice(6);
	const isDrawn = (day: number) => day >= from && day <= until;
	const named: Named = {
		limitGPerL,
		today: todayDay > from && isDrawn(todayDay) && todayDay !== retestDay ? todayDay : undefined,
		retest: retestDay !== null && isDrawn(retestDay) ? { day: retestDay, isNow: retestDay === todayDay } : undefined,
		closedTest: tests.some(({ day, highGPerL }) => isDrawn(day) && Number.isFinite(highGPerL)),
		openTest: tests.some(({ day, highGPerL }) => isDrawn(day) && !Number.isFinite(highGPerL)),
	};
	const height = LEGEND_AT + legendHeight(named, words);
	const parts = [
		`<title>${escaped(chart.title)}</title>`,
		`<desc>${escaped(chart.description)}</desc>`,
		element("rect", { width: WIDTH, height, fill: COLOURS.paper }),
		label(8, 24, chart.title, { "font-size": 16, "font-weight": 600 }),
		...curveParts(points, limitGPerL, x, y),
		...axisParts(x, y, words),
		...dayMarks(named, x),
		...tests.filter(({ day }) => isDrawn(day)).flatMap((test) => testParts(test, x, y)),
		...legendParts(named, LEGEND_AT, words),
	];
	const size = `width="${SHOWN_WIDTH}" height="${rounded((SHOWN_WIDTH * height) / WIDTH)}" viewBox="0 0 ${WIDTH} ${height}"`;
	return `<svg xmlns="http://www.w3.org/2000/svg" ${size} role="img" font-family="system-ui, sans-serif" font-size="${LETTERS}" fill="${COLOURS.ink}">\n${parts.join("\n")}\n</svg>\n`;
}

function testParts({ day, lowGPerL, highGPerL }: ChartTest, x: Scale, y: Scale): string[] {
	const isOpen = highGPerL === Number.POSITIVE_INFINITY;
	return onLight(testBar(x(day), y(lowGPerL), isOpen ? TOP : y(highGPerL), isOpen), STROKES.test);
}

function dayMarks({ today, retest }: Named, x: Scale): string[] {
	const isCrowded = today !== undefined && retest !== undefined && Math.abs(x(today) - x(retest.day)) < SIGN_WIDTH;
	return [
		...(today === undefined ? [] : dayMark("today", x(today), isCrowded ? TOP - SIGN_WIDTH : TOP, FLOOR)),
		...(retest === undefined ? [] : dayMark("retest", x(retest.day), TOP, FLOOR)),
	];
}

/** The first and the last day, once everything that is drawn is known to be drawable. */
function drawnDays({ points, tests, limitGPerL, todayDay, retestDay }: StrengthChart): [number, number] {
	const first = points[0];
	const last = points.at(-1);
	if (!first || !last || points.length < 2)
		throw new RangeError(`a strength chart needs two points or more, got ${points.length}`);
	if (points.some(({ day }, i) => i > 0 && !(day > points[i - 1]!.day)))
		throw new RangeError("the days of a strength chart must rise from point to point");
	const numbers = [
		...points.flatMap(({ day, medianGPerL, lowGPerL, highGPerL }) => [day, medianGPerL, lowGPerL, highGPerL]),
		...tests.flatMap(({ day, lowGPerL }) => [day, lowGPerL]),
		...[limitGPerL, todayDay, retestDay ?? 0],
	];
	if (!numbers.every(Number.isFinite) || tests.some(({ highGPerL, lowGPerL }) => !(highGPerL >= lowGPerL)))
		throw new RangeError("a strength chart takes finite numbers; only the high end of a test may be Infinity");
	return [first.day, last.day];
}
