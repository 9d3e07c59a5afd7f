import { readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "@jest/globals";
import { parse } from "csv-parse/sync";
import fc from "fast-check";
import { readSheet } from "read-excel-file/node";
import { validateXML } from "xmllint-wasm";
import type { CoverageReport } from "../../../src/audit/coverage/coverage.js";
import { figureOf } from "../../../src/audit/coverage/figure.js";
import { figuresAdx } from "../../../src/audit/exports/adx.js";
import { figuresCsv } from "../../../src/audit/exports/csv.js";
import { figuresGeoJson } from "../../../src/audit/exports/geojson.js";
import { harmlessText } from "../../../src/audit/exports/harmless.js";
import { figuresXlsx } from "../../../src/audit/exports/xlsx.js";

const figures = [
	figureOf("households-visited", { numerator: 7, denominator: 9, missing: 2 }),
	figureOf("water-treated", { numerator: 0, denominator: 0, missing: 4 }),
];

const definition = { wanted: "more", counted: "households", words: "=1+1", missing: "none", source: "invented" } as const;

function aReport(name: string, over: Partial<CoverageReport["period"]> = {}): CoverageReport {
	const areas = [
		{ code: "A1", name, parentCode: null, depth: 0, figures },
		{ code: "A1-1", name: "Invented, second", parentCode: "A1", depth: 1, figures },
	];
	const period = {
		...{ from: "2026-02-01", to: "2026-02-28", timeZone: "Africa/Nairobi", isPartial: false },
		...{ fromMs: Date.UTC(2026, 0, 31, 21), untilMs: Date.UTC(2026, 1, 28, 21) },
		...over,
	};
	const definitions = figures.map(({ indicator }) => ({ ...definition, code: indicator, name: `Invented ${indicator}` }));
	return { area: { code: "A1", name }, period, definitions, figures, areas };
}

// Source: OWASP, "CSV Injection": signs that begin a formula, with tab, carriage return, line feed and the wide forms.
const FORMULAS = [
	"=1+1",
	"+1",
	"-1",
	"@SUM(A1)",
	"\t=1",
	"\r=1",
	"\n=1",
	" =1",
	"＝1",
	"＋1",
	"－1",
	"＠1",
	'=HYPERLINK("x")',
	"=cmd|' /C calc'!A0",
];

describe("a text in an export", () => {
	it.each(FORMULAS)("that begins a formula, %j, bears an apostrophe, in CSV as in a workbook", async (formula) => {
		expect(harmlessText(formula)).toBe(`'${formula}`);
		const report = aReport(formula);
		const rows = parse(figuresCsv(report), { bom: false }) as string[][];
		expect(rows[2]?.[3]).toBe(`'${formula}`);
		const sheet = await readSheet(figuresXlsx(report), 1);
		// A reader of XML may take each blank for another (XML 1.0, 2.11).
		expect(String(sheet[2]?.[3]).replaceAll(/\s+/g, "")).toBe(`'${formula}`.replaceAll(/\s+/g, ""));
	});

	it("that doesn't is left as it is, but for signs that no file of this kind can hold", () => {
		for (const text of ["Invented", "a=1", "1-2", "5 %", "ክልል", "'quoted'"]) expect(harmlessText(text)).toBe(text);
		expect(harmlessText("a\u0000b\u001fc\ud800")).toBe("abc\ufffd");
		expect(harmlessText("\u0000=1")).toBe("'=1");
	});

	it("never begins a formula in any field of a CSV file, and comes back as it went in", () => {
		fc.assert(
			fc.property(fc.string({ unit: "binary", maxLength: 20 }), (name) => {
				const rows = parse(figuresCsv(aReport(name))) as string[][];
				expect(rows).toHaveLength(2 + 4);
				expect(rows[2]?.[3]).toBe(harmlessText(name));
				for (const field of rows.slice(2).flat()) expect(field).not.toMatch(/^\s*[=+\-@\uFF1D\uFF0B\uFF0D\uFF20]/);
			}),
			{ numRuns: 300 },
		);
	});
});

describe("figures as CSV", () => {
	// Source: HXL 1.1, tagging conventions: a hashtag, then attributes; core hashtags from its dictionary.
	// The interval: Wilson 1927, as in tests/published/statistics.json.
	it("bear hashtags of HXL 1.1 under their headings, and each figure with its interval", () => {
		const [headings, hashtags, first, second] = parse(figuresCsv(aReport("Invented area"))) as string[][];
		expect(headings).toHaveLength(13);
		for (const hashtag of hashtags!) expect(hashtag).toMatch(/^#(date|loc|indicator)(\+[a-z][a-z0-9_]*)*$/);
		expect(first).toEqual([
			...["2026-02-01", "2026-02-28", "A1", "Invented area", "", "households-visited", "Invented households-visited"],
			...["7", "9", "2", "0.777778", "0.452589", "0.936775"],
		]);
		expect(second?.slice(7)).toEqual(["0", "0", "4", "", "", ""]);
	});
});

describe("figures as a workbook", () => {
	it("hold numbers as numbers and texts as texts, as another library reads them, with a sheet of definitions", async () => {
		const bytes = figuresXlsx(aReport("Invented area"));
		const sheet = await readSheet(bytes, 1);
		expect(sheet[1]?.[7]).toBe("#indicator+num+numerator");
		expect(sheet[2]?.slice(5, 11)).toEqual(["households-visited", "Invented households-visited", 7, 9, 2, 0.777778]);
		expect(sheet[3]?.slice(7, 10)).toEqual([0, 0, 4]);
		const definitions = await readSheet(bytes, 2);
		expect(definitions[1]).toEqual([
			"households-visited",
			"Invented households-visited",
			"households",
			"'=1+1",
			"none",
			"invented",
		]);
	});
});

describe("figures as GeoJSON", () => {
	const places = [
		{ code: "A1", latitudeDeg: -1.5, longitudeDeg: 37.1234567 },
		{ code: "A1-1", latitudeDeg: -2.25, longitudeDeg: 36.5 },
		{ code: "elsewhere", latitudeDeg: 50, longitudeDeg: 8 },
	];
	// Source: RFC 7946, 3.1.1 and 5.
	it("are points with longitude first, within a box west, south, east, north, and an area without a place has none", () => {
		const json = JSON.parse(figuresGeoJson(aReport("Invented"), places));
		expect(json).toMatchObject({ type: "FeatureCollection", bbox: [36.5, -2.25, 37.12346, -1.5] });
		expect(json.features[0]).toMatchObject({
			...{ type: "Feature", id: "A1", geometry: { type: "Point", coordinates: [37.12346, -1.5] } },
			properties: { code: "A1", figures: { "households-visited": { numerator: 7, denominator: 9, missing: 2 } } },
		});
		expect(JSON.parse(figuresGeoJson(aReport("Invented"), [])).features[0].geometry).toBeNull();
		expect(Object.keys(json)).not.toContain("crs");
	});

	// Source: RFC 7946, 5.2: the example of Fiji, whose box goes from 177° to -178°.
	it("have a box that crosses 180° where that is the shorter way", () => {
		const fiji = [
			{ code: "A1", latitudeDeg: -20, longitudeDeg: 177 },
			{ code: "A1-1", latitudeDeg: -16, longitudeDeg: -178 },
		];
		expect(JSON.parse(figuresGeoJson(aReport("Invented"), fiji)).bbox).toEqual([177, -20, -178, -16]);
	});
});

describe("figures as ADX", () => {
	const schema = readFileSync(join(__dirname, "../../published/adx.xsd"), "utf8");
	const problemsOf = async (contents: string) =>
		(await validateXML({ xml: [{ fileName: "figures.xml", contents }], schema: [schema] })).errors;

	it.each(["Invented area", `"quoted" & <b>'x'</b>`])(
		"keep the rules of the profile's schema, whatever an area is called: %s",
		async (name) => {
			const report = aReport(name);
			const odd = { ...report, areas: report.areas.map((area) => ({ ...area, code: `${area.code} ${name}` })) };
			for (const each of [report, odd]) expect(await problemsOf(figuresAdx(each))).toEqual([]);
		},
	);

	it("tell a whole month as P1M and anything else in days, and the instant up to which was counted", () => {
		const adx = figuresAdx(aReport("Invented"));
		expect(adx).toContain('exported="2026-02-28T21:00:00.000Z"');
		expect(adx).toContain('<group orgUnit="A1" period="2026-02-01/P1M" dataSet="JARWATCH_COVERAGE">');
		expect(adx).toContain('<dataValue dataElement="households-visited.denominator" value="9"/>');
		expect(figuresAdx(aReport("Invented", { to: "2026-03-01" }))).toContain('period="2026-02-01/P29D"');
	});

	it("would be refused by the schema without what it asks for", async () => {
		const adx = figuresAdx(aReport("Invented"));
		for (const [from, to] of [
			[/ exported="[^"]*"/, ""],
			[' orgUnit="A1"', ""],
			['value="9"', 'value="nine"'],
			["/P1M", ""],
			["/P1M", "/P1X"],
			["adx:2015", "adx:2014"],
		] as const)
			expect(await problemsOf(adx.replace(from, to))).not.toEqual([]);
	});
});
