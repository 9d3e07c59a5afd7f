import { XMLParser, XMLValidator } from "fast-xml-parser";
import { type TrendPoint, trendChartSvg } from "../../src/charts/trend-chart.js";

const month = (name: string, share: number | null): TrendPoint => ({
	name,
	share,
	low: share === null ? null : share - 0.1,
	high: share === null ? null : share + 0.1,
});

function drawn(points: readonly TrendPoint[]) {
	const percent = (share: number) => `${share * 100} %`;
	const svg = trendChartSvg({ title: "Visits", description: "By month.", points, percent, interval: "95 % interval" });
	expect(XMLValidator.validate(svg)).toBe(true);
	const isArray = (name: string) => ["circle", "text", "path"].includes(name);
	return new XMLParser({ ignoreAttributes: false, attributeNamePrefix: "", parseAttributeValue: true, isArray }).parse(svg)
		.svg as {
		readonly circle?: { readonly cx: number; readonly cy: number }[];
		readonly path: { readonly d: string; readonly stroke: string }[];
		readonly text: { readonly "#text": string; readonly y: number }[];
	};
}

describe("a trend", () => {
	it("puts 50 % half-way between 0 % and 100 %", () => {
		const { circle, text } = drawn([month("2026-01", 0.5)]);
		const heightOf = (tick: string) => text.find((one) => one["#text"] === tick)!.y - 6;
		expect(circle![0]!.cy).toBeCloseTo((heightOf("0 %") + heightOf("100 %")) / 2, 0);
	});

	it("leaves a gap where nothing was counted, and joins nothing over it", () => {
		const joins = (points: readonly TrendPoint[]) => drawn(points).path.filter(({ d }) => /^M[\d.]+ [\d.]+L/.test(d)).length;
		expect(joins([month("1", 0.4), month("2", 0.5), month("3", 0.6)])).toBe(2);
		expect(joins([month("1", 0.4), month("2", null), month("3", 0.6)])).toBe(0);
		expect(drawn([month("1", null)]).circle).toBeUndefined();
	});
});
