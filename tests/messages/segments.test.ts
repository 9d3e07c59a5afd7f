import { segmentsOf } from "../../src/messages/segments.js";

const a = (count: number) => "a".repeat(count);
const G = "GSM-7";
const U = "UCS-2";

// Source: 3GPP TS 23.038 and 23.040; each row was computed by an independent counter.
const TABLE: readonly [string, string, string, number, number][] = [
	["nothing", "", G, 0, 0],
	["a 160 times", a(160), G, 160, 1],
	["a 161 times", a(161), G, 161, 2],
	["a 306 times", a(306), G, 306, 2],
	["a 307 times", a(307), G, 307, 3],
	["a 459 times", a(459), G, 459, 3],
	["a 460 times", a(460), G, 460, 4],
	["€ 80 times", "€".repeat(80), G, 160, 1],
	["€ 81 times", "€".repeat(81), G, 162, 2],
	["a 158 times and €", `${a(158)}€`, G, 160, 1],
	["a 159 times and €", `${a(159)}€`, G, 161, 2],
	["€ across the end of the first part", `${a(152)}€${a(152)}`, G, 306, 3],
	["€ across the end of the first part, one shorter", `${a(152)}€${a(151)}`, G, 305, 2],
	["€ 153 times, 76 a part", "€".repeat(153), G, 306, 3],
	["the extension table", "[]{}|~^\\", G, 16, 1],
	["CR and LF", "\r\n", G, 2, 1],
	["é à ñ Ç ü", "éàñÇü", G, 5, 1],
	["ж 70 times", "ж".repeat(70), U, 70, 1],
	["ж 71 times", "ж".repeat(71), U, 71, 2],
	["ж 134 times", "ж".repeat(134), U, 134, 2],
	["ж 135 times", "ж".repeat(135), U, 135, 3],
	["a 69 times and ж", `${a(69)}ж`, U, 70, 1],
	["a 70 times and ж", `${a(70)}ж`, U, 71, 2],
	["😀 35 times", "😀".repeat(35), U, 70, 1],
	["😀 36 times", "😀".repeat(36), U, 72, 2],
	["😀 67 times, 33 a part", "😀".repeat(67), U, 134, 3],
	["😀 across the end of the first part", `${a(66)}😀${a(66)}`, U, 134, 3],
	["a curly apostrophe", "It’s due", U, 8, 1],
	["a backtick", "`", U, 1, 1],
	["a tab", "\t", U, 1, 1],
	["a no-break space", "\u00a0", U, 1, 1],
	["an en dash", "–", U, 1, 1],
	["e and a combining acute accent, composed first", "e\u0301", G, 1, 1],
];

describe("the SMS segments of a text", () => {
	it.each(TABLE)("%s", (_, text, encoding, units, segments) => {
		expect(segmentsOf(text)).toEqual({ encoding, units, segments });
	});

	it.each([..."êáœçẹɓŋ"])("%s isn't in the GSM alphabet", (letter) => {
		expect(segmentsOf(letter).encoding).toBe(U);
	});

	it("knows 127 characters of the GSM alphabet and 10 of its extension among all of the basic plane", () => {
		let one = 0;
		let two = 0;
		for (let code = 0; code < 0x10000; code++) {
			if (code >= 0xd800 && code < 0xe000) continue;
			const { encoding, units } = segmentsOf(String.fromCharCode(code));
			// What isn't composed is composed first and counted by another row: the ångström sign is Å, the ohm sign Ω.
			if (encoding === G && String.fromCharCode(code).normalize("NFC") === String.fromCharCode(code)) units === 1 ? one++ : two++;
		}
		expect([one, two]).toEqual([127, 10]);
	});
});
