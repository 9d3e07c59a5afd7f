import { XMLParser, XMLValidator } from "fast-xml-parser";
import { comparisonChartSvg } from "../../src/charts/comparison-chart.js";
import { reliabilityChartSvg } from "../../src/charts/reliability-chart.js";

const all = (svg: string, name: string): Record<string, string>[] => {
	const found: Record<string, string>[] = [];
	const look = (node: unknown): void => {
		if (Array.isArray(node)) for (const one of node) look(one);
		else if (typeof node === "object" && node !== null)
			for (const [key, value] of Object.entries(node)) {
				if (key === name) for (const one of [value].flat()) found.push(one as Record<string, string>);
				look(value);
			}
	};
	look(new XMLParser({ ignoreAttributes: false, attributeNamePrefix: "", htmlEntities: true }).parse(svg));
	return found;
};

describe("a comparison", () => {
	const rows = [
		{ name: "every 7 days", value: 200, low: 150, high: 250 },
		{ name: "the forecast <asks>", value: 50, low: 40, high: 60 },
	];
	const svg = comparisonChartSvg({
		title: "Unsafe days",
		description: "Fewer are better.",
		panels: [{ name: "per 1000", rows }],
	});

	it("is a valid document that names every row, with bars as long as their figures", () => {
		expect(XMLValidator.validate(svg)).toBe(true);
		const bars = all(svg, "rect").filter((rect) => rect["fill-opacity"] !== undefined);
		expect(bars).toHaveLength(2);
		const [long, short] = bars.map((bar) => Number(bar["width"]));
		expect((long as number) / (short as number)).toBeCloseTo(4, 1);
		expect(svg).toContain("the forecast &#60;asks&#62;");
		expect(svg).toContain("Fewer are better.");
	});

	it("refuses what can't be drawn", () => {
		const with_ = (value: number) => ({
			title: "",
			description: "",
			panels: [{ name: "", rows: [{ name: "", value, low: 0, high: 1 }] }],
		});
		expect(() => comparisonChartSvg(with_(Number.NaN))).toThrow(RangeError);
		expect(() => comparisonChartSvg(with_(-1))).toThrow(RangeError);
		expect(() => comparisonChartSvg({ title: "", description: "", panels: [] })).toThrow(RangeError);
	});
});

describe("a reliability chart", () => {
	const line = (name: string, shift: number) => ({
		name,
		points: [0.2, 0.5, 0.9].map((saidShare) => ({ saidShare, heldShare: saidShare + shift })),
	});

	it("puts what held as said on the diagonal, and what held less under it", () => {
		const svg = reliabilityChartSvg({ title: "Held", description: "As said.", lines: [line("as said", 0), line("less", -0.1)] });
		expect(XMLValidator.validate(svg)).toBe(true);
		const points = all(svg, "circle").map(({ cx, cy }) => [Number(cx), Number(cy)] as const);
		// The square of the picture goes from (52, 392) to (400, 44): x - 52 = 392 - y on the diagonal.
		const above = points.map(([x, y]) => 392 - y - (x - 52));
		for (const distance of above.slice(0, 3)) expect(Math.abs(distance)).toBeLessThan(0.2);
		for (const distance of above.slice(3)) expect(distance).toBeCloseTo(-34.8, 0);
	});

	it("refuses shares outside 0 to 1, and more lines than can be told apart", () => {
		expect(() => reliabilityChartSvg({ title: "", description: "", lines: [line("over", 0.2)] })).toThrow(RangeError);
		expect(() =>
			reliabilityChartSvg({ title: "", description: "", lines: Array.from({ length: 5 }, () => line("", 0)) }),
		).toThrow(RangeError);
	});
});
