import fc from "fast-check";
import { importKinds } from "../../src/imports.js";
import { separatorOf } from "../../src/programme/import/header.js";
import { Importer } from "../../src/programme/import/importer.js";
import { nearestName } from "../../src/programme/import/nearest.js";
import { problemText, shownValue } from "../../src/programme/import/report.js";
import { circlesOf } from "../../src/programme/import/tree.js";
import { Utf8Lines } from "../../src/programme/import/utf8.js";

/** The first line that a decoder refuses, read line by line (reference: the WHATWG Encoding Standard's decoder in the runtime). */
function badLineByDecoder(bytes: Buffer): number | undefined {
	const lines = bytes.toString("latin1").split("\n");
	const at = lines.findIndex((line) => {
		try {
			new TextDecoder("utf-8", { fatal: true }).decode(Buffer.from(line, "latin1"));
			return false;
		} catch {
			return true;
		}
	});
	return at === -1 ? undefined : at + 1;
}

describe("the check of a file's letters", () => {
	it("finds the same first bad line as the runtime's strict decoder, however the bytes are cut into pieces (1,000 files)", () => {
		const piece = fc.oneof(
			fc.string({ unit: "grapheme" }).map((text) => Buffer.from(text)),
			fc.constant(Buffer.from("\n")),
			fc.uint8Array({ maxLength: 3 }).map((bytes) => Buffer.from(bytes)),
		);
		fc.assert(
			fc.property(fc.array(piece, { maxLength: 12 }), fc.integer({ min: 1, max: 9 }), (pieces, step) => {
				const bytes = Buffer.concat(pieces);
				const lines = new Utf8Lines();
				let found: number | undefined;
				for (let from = 0; from < bytes.length && found === undefined; from += step)
					found = lines.firstBadLine(bytes.subarray(from, from + step));
				expect(found ?? lines.badLineAtEnd()).toBe(badLineByDecoder(bytes));
			}),
			{ numRuns: 1000, seed: 7 },
		);
	});
});

describe("circles among rows that name each other", () => {
	it("are found just where walking up as many steps as there are rows doesn't end (1,000 random trees)", () => {
		fc.assert(
			fc.property(fc.array(fc.integer({ min: -1, max: 11 }), { minLength: 1, maxLength: 12 }), (parents) => {
				const parentOf = (code: string) => {
					const parent = parents[Number(code)] ?? -1;
					return parent < 0 ? null : String(parent);
				};
				const codes = parents.map((_, i) => String(i));
				/** By brute force: a row is on a circle where so many steps up lead back to it. */
				const onCircle = codes.filter((code) => {
					let at: string | null = code;
					for (let step = 0; step < parents.length && at !== null; step++) {
						at = parentOf(at);
						if (at === code) return true;
					}
					return false;
				});
				expect(circlesOf(codes, parentOf).flat().sort()).toEqual(onCircle.sort());
			}),
			{ numRuns: 1000, seed: 7 },
		);
	});

	it("are found in a chain of 100,000 rows without exhausting the stack", () => {
		const codes = Array.from({ length: 100_000 }, (_, i) => String(i));
		expect(circlesOf(codes, (code) => (code === "99999" ? "50000" : String(Number(code) + 1)))).toHaveLength(1);
	});
});

describe("the nearest name", () => {
	it.each([
		["volume_ml", ["code", "volume_l", "volume"], "volume_l"],
		["Clear", ["clear", "cloudy"], "clear"],
		["BZ-101", ["BZ-102", "BZ-103", "AB-999"], "BZ-102"],
		["xyz", ["abc", "def"], undefined],
		["a", ["b", "c"], undefined],
		["anything", [], undefined],
	])("to %j among %j is %j", (name, known, nearest) => expect(nearestName(name, known)).toBe(nearest));
});

describe("the separator of a file", () => {
	it.each([
		["a,b;c,d", ","],
		["a;b;c", ";"],
		["a\tb\tc", "\t"],
		['"a,b,c,d";e', ";"],
		["code", ","],
	])("whose header is %j is %j", (header, separator) => expect(separatorOf(header)).toBe(separator));
});

describe("a report", () => {
	it("says line, column, value, and what would be right", () => {
		expect(
			problemText({ line: 17, column: "volume_l", value: "-5", message: "must be more than 0 and at most 1000 (litres)" }),
		).toBe('line 17, column volume_l, value "-5": must be more than 0 and at most 1000 (litres)');
	});

	it("shows at most 60 letters of a cell, line ends and control characters as numbers, and of a phone its last 3 digits", () => {
		expect(shownValue("x".repeat(61))).toBe(`${"x".repeat(60)}…`);
		expect(shownValue("a\r\nline 2: forged\u2028\u001b[2J")).toBe("a\\u000d\\u000aline 2: forged\\u2028\\u001b[2J");
		expect(shownValue("+44 7700 900123")).toBe("…123");
		expect(shownValue("07700900123")).toBe("…123");
		expect(shownValue("no phone", { shown: "in part" })).toBe("…");
		expect(shownValue("Invented Person", { shown: "never" })).toBe("");
		expect(shownValue("BD40040107")).toBe("BD40040107");
	});
});

describe("the list of kinds", () => {
	const importer = (kinds: typeof importKinds, after = {}) =>
		new Importer(undefined as never, undefined as never, undefined as never, { kinds, afterWriting: after });

	it("is refused at the start where a name stands twice, or something is to follow a kind that isn't there", () => {
		expect(() => importer([...importKinds, importKinds[0]!])).toThrow("two kinds of import have the same name");
		expect(() => importer(importKinds, { batch: async () => undefined })).toThrow('"batch", which isn\'t a kind of import');
	});
});
