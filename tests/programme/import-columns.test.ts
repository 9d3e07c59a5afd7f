import { z } from "zod";
import { importKinds } from "../../src/imports.js";
import type { Column, Manner } from "../../src/programme/import/column.js";
import { momentMsOf } from "../../src/programme/import/moment.js";
import { phoneE164Of } from "../../src/programme/import/phone.js";
import { HEADERS } from "./files.js";

const manner = (separator: Manner["separator"] = ","): Manner => ({
	separator,
	defaultCountry: undefined,
	decimalMark: undefined,
});
const columnOf = (kind: string, name: string): Column => importKinds.find((k) => k.name === kind)!.columns[name as "code"]!;
/** The value that a cell comes to, or "refused". */
function valueIn(kind: string, name: string, cell: string, separator?: Manner["separator"]): unknown {
	const column = columnOf(kind, name);
	const parsed = column.schema.safeParse(column.read(cell, manner(separator)));
	return parsed.success ? parsed.data : "refused";
}

describe("the columns of an import", () => {
	it("stand for each kind in the order that its documents give, code first", () => {
		for (const kind of importKinds) {
			const columns = Object.entries(kind.columns as Record<string, Column>);
			const documented = HEADERS[kind.name as keyof typeof HEADERS].split(",");
			expect(columns.map(([name]) => name).filter((name) => documented.includes(name))).toEqual(documented);
			expect(documented).toEqual(
				expect.arrayContaining(columns.flatMap(([name, { mayBeMissing }]) => (mayBeMissing ? [] : [name]))),
			);
		}
	});

	it("each describe in a schema what would be right, so that an API's documents can say the same", () => {
		for (const kind of importKinds)
			for (const [name, column] of Object.entries(kind.columns) as [string, Column][]) {
				const schema = z.toJSONSchema(column.schema, { unrepresentable: "any" });
				expect([name, schema.description]).toEqual([name, column.mayBeEmpty ? `${column.right}, or empty` : column.right]);
			}
	});

	// Weekday numbers: ISO 8601-1:2019, 3.1.2.16, Monday is 1 and Sunday 7.
	it.each([
		["1-6", [1, 2, 3, 4, 5, 6]],
		["1 2 3 4 5", [1, 2, 3, 4, 5]],
		["7-4", [1, 2, 3, 4, 7]],
		["5, 1,1", [1, 5]],
		["3", [3]],
		["1-3 6", [1, 2, 3, 6]],
		["0-6", "refused"],
		["8", "refused"],
		["06.Jan", "refused"],
		["Mon-Fri", "refused"],
		["1-", "refused"],
	])("read working days %j as %j", (cell, days) => expect(valueIn("people", "working_days", cell)).toEqual(days));

	it.each([
		["07:00", "07:00"],
		["7:05", "07:05"],
		["23:59", "23:59"],
		["24:00", "refused"],
		["7", "refused"],
		["7.30", "refused"],
	])("read a time of day %j as %j", (cell, time) => expect(valueIn("people", "quiet_from", cell)).toBe(time));

	// Canonical case: RFC 5646 (BCP 47), section 2.1.1.
	it.each([
		["en", "en"],
		["bn-bd", "bn-BD"],
		["ZH-hant-tw", "zh-Hant-TW"],
		["es-419", "es-419"],
		["english", "refused"],
		["e", "refused"],
		["en_GB", "refused"],
	])("read a language %j as %j", (cell, language) => expect(valueIn("people", "language", cell)).toBe(language));

	it.each([
		["sms", ["sms"]],
		["sms, email", ["sms", "email"]],
		["sms sms", "refused"],
		["SMS", "refused"],
	])("read channels %j as %j", (cell, channels) => expect(valueIn("people", "channels", cell)).toEqual(channels));

	it.each([
		["12", ",", 12],
		["+12.50", ",", 12.5],
		["-0", ",", "refused"],
		[".5", ",", 0.5],
		["12,5", ";", 12.5],
		["12,5", "\t", "refused"],
		["1.000,5", ";", "refused"],
		["1 000", ";", "refused"],
		["١٢", ",", "refused"],
		["1e3", ",", "refused"],
		["NaN", ",", "refused"],
		["5.", ",", "refused"],
	] as const)("read a volume %j in a file separated by %j as %j L", (cell, separator, volume) =>
		expect(valueIn("containers", "volume_l", cell, separator)).toBe(volume),
	);

	it("keep no negative zero", () => expect(Object.is(valueIn("areas", "latitude_deg", "-0"), 0)).toBe(true));

	it.each([
		["yes", true],
		["No", false],
		["1", "refused"],
	])("read %j as the flag %j", (cell, flag) => expect(valueIn("generators", "in_service", cell)).toBe(flag));

	it.each(["A", "BD-40/07.1_b", "৫", "é1"])("take %j for a code", (code) => expect(valueIn("areas", "code", code)).toBe(code));
	it.each(["-A", "A B", "=1+1", "@x", "A".repeat(41), "\ud800", "A\u0000"])("refuse %j for a code", (code) =>
		expect(valueIn("areas", "code", code)).toBe("refused"),
	);
	it.each(["a\ud800b", "a\u0000b", "a\nb", "a\uFFFDb", "x".repeat(201), ""])(
		"refuse text with half a surrogate pair, a control character, a lost letter, or 201 letters (case %#)",
		(text) => expect(valueIn("areas", "name", text)).toBe("refused"),
	);
});

describe("a phone number", () => {
	// "+" and at most 15 digits: ITU-T E.164 (11/2010), section 6. Numbers: Ofcom's ranges for drama use.
	it.each([
		["+44 7700 900123", undefined, "+447700900123"],
		["+44 (0)7700-900123", undefined, "+447700900123"],
		["0044 7700 900123", "GB", "+447700900123"],
		["07700 900123", "GB", "+447700900123"],
		["07700 900123", undefined, undefined],
		["+44 7700 900123 ext. 5", undefined, undefined],
		["+44 7700", undefined, undefined],
		["4.477E+11", "GB", undefined],
		["call +44 7700 900123", undefined, undefined],
		["+999 12345678", undefined, undefined],
	] as const)("written %j with the default country %j is %j", (text, country, e164) =>
		expect(phoneE164Of(text, country)).toBe(e164),
	);
});

describe("a date and time", () => {
	// Instants from GNU date (date -u -d ... +%s); clock changes from the IANA time zone database 2025.
	it.each([
		["2025-06-01T07:30+06:00", "UTC", 1_748_741_400_000],
		["2025-06-01T01:30:00.000Z", "Asia/Dhaka", 1_748_741_400_000],
		["2025-06-01 07:30", "Asia/Dhaka", 1_748_741_400_000],
		// 02:30 comes twice in Berlin that night: the first, at +02:00, makes the jar an hour older.
		["2025-10-26 02:30", "Europe/Berlin", 1_761_438_600_000],
		// 02:30 is left out in Berlin that night: an hour later, 03:30 at +02:00.
		["2025-03-30 02:30", "Europe/Berlin", 1_743_298_200_000],
		["2025-02-29 08:00", "UTC", undefined],
		["2025-06-01", "UTC", undefined],
		["2025-06-01T25:00Z", "UTC", undefined],
		["01.06.2025 07:30", "UTC", undefined],
	])("written %j in %s is %j ms", (text, zone, instantMs) => expect(momentMsOf(text, zone)).toBe(instantMs));
});
