import fc from "fast-check";
import { XMLParser, XMLValidator } from "fast-xml-parser";
import { COLOURS, STROKES } from "../../src/charts/marks.js";
import { type StrengthChart, strengthChartSvg } from "../../src/charts/strength-chart.js";

const curve = (days: number, from = 5, steps = 60) =>
	Array.from({ length: steps + 1 }, (_, step) => {
		const medianGPerL = from * Math.exp((-0.5 * step) / steps);
		return { day: (days * step) / steps, medianGPerL, lowGPerL: medianGPerL * 0.7, highGPerL: medianGPerL * 1.25 };
	});

const jar: StrengthChart = {
	title: "Jar J-014",
	description: "Falls from 5 to 3 g/L in 30 days.",
	points: curve(30),
	tests: [
		{ day: 1, lowGPerL: 4.5, highGPerL: Number.POSITIVE_INFINITY },
		{ day: 4, lowGPerL: 3, highGPerL: 5 },
	],
	limitGPerL: 3.5,
	todayDay: 4,
	retestDay: 9.4,
};

interface Words {
	readonly "#text": string | number;
	readonly x: number;
	readonly y: number;
	readonly "font-size"?: number;
	readonly "text-anchor"?: "middle" | "end";
}

function drawn(chart: StrengthChart) {
	const svg = strengthChartSvg(chart);
	const parser = new XMLParser({
		ignoreAttributes: false,
		attributeNamePrefix: "",
		parseAttributeValue: true,
		htmlEntities: true,
		isArray: (name) => name === "text" || name === "path",
	});
	const root = parser.parse(svg).svg as {
		readonly viewBox: string;
		readonly "font-size": number;
		readonly title: string;
		readonly desc: string;
		readonly text: Words[];
		readonly path: { readonly d: string; readonly stroke?: string; readonly "stroke-dasharray"?: string }[];
	};
	return { svg, ...root, words: root.text.map((one) => String(one["#text"])) };
}

/** Where words stand, reckoned with 0.6 of the letter height a letter: wider than usual sans-serif faces are. */
function boxOf(words: Words, letters: number) {
	const size = words["font-size"] ?? letters;
	const width = String(words["#text"]).length * size * 0.6;
	const shift = words["text-anchor"] === "end" ? width : words["text-anchor"] === "middle" ? width / 2 : 0;
	return { left: words.x - shift, right: words.x - shift + width, top: words.y - size * 0.75, bottom: words.y + size * 0.2 };
}

const anyJar = fc
	.record({
		days: fc.double({ min: 1, max: 480, noNaN: true }),
		from: fc.double({ min: 0.5, max: 15, noNaN: true }),
		today: fc.double({ min: 0, max: 1, noNaN: true }),
		wait: fc.option(fc.double({ min: 0, max: 1.2, noNaN: true })),
		limitGPerL: fc.double({ min: 0.5, max: 10, noNaN: true }),
		tests: fc.array(
			fc.record({
				at: fc.double({ min: 0, max: 1, noNaN: true }),
				low: fc.double({ min: 0, max: 15, noNaN: true }),
				width: fc.option(fc.double({ min: 0, max: 5, noNaN: true })),
			}),
			{ maxLength: 6 },
		),
	})
	.map(
		({ days, from, today, wait, limitGPerL, tests }): StrengthChart => ({
			...jar,
			points: curve(days, from),
			limitGPerL,
			todayDay: today * days,
			retestDay: wait === null ? null : (today + wait) * days,
			tests: tests.map(({ at, low, width }) => ({
				day: at * days,
				lowGPerL: low,
				highGPerL: width === null ? Number.POSITIVE_INFINITY : low + width,
			})),
		}),
	);

describe("the picture of a jar's strength", () => {
	it("is well-formed XML under 20 kB with title, description and no script, whatever the jar", () => {
		fc.assert(
			fc.property(anyJar, (chart) => {
				const { svg, title, desc } = drawn(chart);
				expect(XMLValidator.validate(svg)).toBe(true);
				expect(svg.length).toBeLessThan(20_000);
				expect([title, desc]).toEqual([chart.title, chart.description]);
				expect(svg).not.toMatch(/NaN|Infinity|undefined|null|<script|<style|href|url\(/);
			}),
			{ numRuns: 100, seed: 71 },
		);
	});

	it("keeps its words apart and within the picture, whatever the jar", () => {
		fc.assert(
			fc.property(anyJar, (chart) => {
				const { viewBox, text, "font-size": letters } = drawn(chart);
				const [, , width = 0, height = 0] = viewBox.split(" ").map(Number);
				const boxes = text.map((words) => boxOf(words, letters));
				for (const [i, box] of boxes.entries()) {
					expect(box.left).toBeGreaterThanOrEqual(0);
					expect(box.right).toBeLessThanOrEqual(width);
					expect(box.bottom).toBeLessThanOrEqual(height);
					for (const other of boxes.slice(i + 1)) {
						const apart =
							box.right <= other.left || other.right <= box.left || box.bottom <= other.top || other.bottom <= box.top;
						expect(apart ? "" : `${JSON.stringify(text[i])} over ${JSON.stringify(other)}`).toBe("");
					}
				}
			}),
			{ numRuns: 100, seed: 72 },
		);
	});

	// Source: WCAG 2.2 (W3C 2023), relative luminance and contrast ratio; 1.4.3 asks 4.5 to 1 for words, 1.4.11 3 to 1 for graphics.
	it("keeps 4.5 to 1 for words, and 3 to 1 for every line on paper and band", () => {
		const luminance = (hex: string) => {
			const [r = 0, g = 0, b = 0] = [1, 3, 5].map((at) => {
				const part = Number.parseInt(hex.slice(at, at + 2), 16) / 255;
				return part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
			});
			return 0.2126 * r + 0.7152 * g + 0.0722 * b;
		};
		const contrast = (one: string, other: string) => {
			const [light = 0, dark = 0] = [luminance(one), luminance(other)].sort((a, b) => b - a);
			return (light + 0.05) / (dark + 0.05);
		};
		expect(contrast("#000000", "#ffffff")).toBeCloseTo(21, 10);
		expect(contrast(COLOURS.ink, COLOURS.paper)).toBeGreaterThan(4.5);
		for (const { stroke } of Object.values(STROKES))
			for (const ground of [COLOURS.paper, COLOURS.band]) expect(contrast(stroke, ground)).toBeGreaterThan(3);
	});

	it("tells its lines apart without colour: no two have the same dashes and width", () => {
		const looks = Object.values(STROKES).map(
			(stroke) => `${stroke["stroke-width"]} ${"stroke-dasharray" in stroke ? stroke["stroke-dasharray"] : ""}`,
		);
		expect(new Set(looks).size).toBe(looks.length);
	});

	it("puts 0 g/L on the floor and the limit, 3.5 of 7 g/L, half-way up", () => {
		const { text, path } = drawn(jar);
		const heightOf = (tick: string) =>
			text.find((words) => String(words["#text"]) === tick && words["text-anchor"] === "end")!.y - 5;
		const limit = path.find((one) => one.stroke === COLOURS.limit)!;
		expect(Number(/^M\d+ ([\d.]+)H/.exec(limit.d)?.[1])).toBeCloseTo((heightOf("0") + heightOf("7")) / 2, 0);
	});

	it("names limit, both kinds of test, today and the next test, and only what is drawn", () => {
		expect(drawn(jar).words).toEqual(
			expect.arrayContaining([
				"usable limit 3.5 g/L",
				"what a test said",
				"test: this or more",
				"today, day 4",
				"test again, day 9.4",
			]),
		);
		const bare = drawn({ ...jar, tests: [], todayDay: 0, retestDay: 31 }).words.join("|");
		expect(bare).not.toMatch(/test|today/);
		expect(drawn({ ...jar, todayDay: 9.4 }).words).toContain("test now, day 9.4");
	});

	it("shows words as they are, and lets none of them become markup", () => {
		const title = `Jar <script>alert("1")</script> & 'co'`;
		const { svg, words } = drawn({ ...jar, title: `${title}\u0000`, description: "a < b" });
		expect(svg).not.toContain("<script");
		expect(words).toContain(title);
	});

	it("refuses one point, days that don't rise, and numbers that aren't finite", () => {
		const [first, second] = jar.points as [StrengthChart["points"][0], StrengthChart["points"][0]];
		for (const wrong of [
			{ points: [first] },
			{ points: [second, first] },
			{ points: [first, { ...second, highGPerL: Number.NaN }] },
			{ limitGPerL: Number.POSITIVE_INFINITY },
			{ tests: [{ day: 1, lowGPerL: 4, highGPerL: 3 }] },
			{ retestDay: Number.NaN },
		])
			expect(() => strengthChartSvg({ ...jar, ...wrong })).toThrow(RangeError);
	});
});
