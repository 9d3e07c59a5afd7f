import { parsedAnswer } from "../../src/messages/answers.js";
import { type Catalogue, catalogueGaps, catalogues, checkCatalogues, reviewOf } from "../../src/messages/catalogues.js";
import { segmentsOf } from "../../src/messages/segments.js";
import { fillingsOf, TEXTS, type TextName } from "../../src/messages/text-names.js";
import { hasCatalogue, textOf } from "../../src/messages/texts.js";

const NAMES = Object.keys(TEXTS) as TextName[];
const LANGUAGES = catalogues.map(({ language }) => language);

/** The longest values that are to be reckoned with; everything that isn't named here is left out on purpose. */
const LONG: Record<string, string | number> = {
	oneTimeCode: "482915",
	login: "asha.otieno",
	way: "https://jars.example.org/password#K7M4X-2QRTV-9HJKW-3MNPX-7YZ2A",
	code: "K7M4Q",
	jar: "RED-BB-0148",
	chancePercent: 23,
	days: 21,
	sampleMl: 1,
	waterL: 2.5,
	name: "Wilhelmina Nakalembe",
	hours: 48,
	strengthGPerL: 4.55,
	lowGPerL: 3.94,
	highGPerL: 5.06,
	doses: "20 L: 8.5 mL",
	nextTestOn: "2026-11-28",
	container: "RED-0148-B",
	household: "RED-0148",
	reason: "must",
	mgPerL: 0.15,
	bleachMl: 12.5,
	nextCleanOn: "2026-11-28",
	example: "K7M4Q 3",
	scale: "0 1 2 3 4 5+",
	count: 2,
	lines: "K7M4Q RED-BB-0148 1 mL; K7M4X RED-BB-0149 1 mL",
	line: "K7M4Q RED-BB-0148 1 mL to 2.5 L",
	generator: "G-RED-01",
	minutes: 120,
	times: 1.75,
	cause: "electrode",
	inspect: "yes",
	descale: "yes",
	electrodeHours: 3456,
	lifeLowHours: 800,
	lifeHighHours: 4800,
	battery: "B-RED-01",
	percent: 45,
	lowPercent: 30,
	highPercent: 60,
	enough: "no",
	lot: "LT26-118",
	useUntilOn: "2026-11-28",
	other: "Wilhelmina Nakalembe",
	agree: "no",
	about: "RED-BB-0148",
	on: "2026-11-28",
	litres: 12.5,
	point: "RED-GEN-01",
	outOn: "2026-11-28",
	byOn: "2026-11-28",
	runs: 12,
	use: "floorsAndLatrines",
	item: "RED-SALT-0148",
	kind: "reagent",
	quantity: 12500,
	held: 1800,
	saltG: 1800,
	households: 112,
	jars: 12,
	generators: 12,
	proposed: "yes",
	tasks: 148,
};
const en = (name: TextName, fill: Record<string, string | number> = LONG) => textOf(name, fill, "en", "en").text;
const withText = (name: string, text: string): Partial<Catalogue> => ({ texts: { ...catalogues[0]!.texts, [name]: text } });

describe("the catalogues of texts", () => {
	it("have every text in every language, with the placeholders that are filled and no other", () => {
		expect(() => checkCatalogues()).not.toThrow();
		expect(catalogueGaps()).toEqual([]);
		expect(LANGUAGES).toEqual(["en", "fr", "es", "pt", "sw", "ar"]);
	});

	it.each<[string, Partial<Catalogue>, RegExp]>([
		["a text is missing", withText("jar.weak", ""), /en lacks jar\.weak/],
		["a placeholder is missing", withText("reply.closed", "Closed."), /en reply\.closed lacks \{code\}/],
		[
			"placeholders are unknown, inside a plural even",
			withText("reply.closed", "{code} {n, plural, one {{jar}} other {#}}"),
			/asks for \{n\}.*asks for \{jar\}/,
		],
		["a text isn't MessageFormat", withText("reply.closed", "{code"), /isn't ICU MessageFormat/],
		["a text is there that nobody sends", withText("jar.strong", "x"), /jar\.strong, which nobody sends/],
		["nobody says who has reviewed it", { review: "" }, /doesn't say who has reviewed it/],
		["words are missing", { words: { ...catalogues[0]!.words, stop: [] } }, /lacks words for stop/],
	])("are refused where %s", (_, spoilt, problem) => {
		expect(() => checkCatalogues([{ ...catalogues[0]!, ...spoilt }])).toThrow(problem);
	});

	it("tell which texts a language lacks, and send those in the programme's language", () => {
		const gap = { ...catalogues[1]!, texts: { ...catalogues[1]!.texts, "jar.weak": "" } };
		expect(() => checkCatalogues([catalogues[0]!, gap])).not.toThrow();
		expect(catalogueGaps([catalogues[0]!, gap])).toEqual(["fr lacks jar.weak"]);
		const french = catalogues[1]!.texts as Record<string, string>;
		const kept = french["jar.testFirst"]!;
		try {
			french["jar.testFirst"] = "";
			expect(textOf("jar.testFirst", LONG, "fr-CD", "pt").language).toBe("pt");
			expect(textOf("jar.testFirst", LONG, "fr-CD", "fr").language).toBe("en");
		} finally {
			french["jar.testFirst"] = kept;
		}
	});

	// Source: Unicode CLDR 48, plural rules of Arabic (zero 0; one 1; two 2; few 3-10; many 11-99; other 100) and English (one, other).
	it.each([
		["en", "{days, plural, other {#}}", 'lacks the plural form "one"'],
		["ar", "{days, plural, one {#} two {#} few {#} many {#} other {#}}", 'lacks the plural form "zero"'],
		["ar", "{days, plural, zero {#} one {#} few {#} many {#} other {#}}", 'lacks the plural form "two"'],
		["ar", "{days, plural, zero {#} one {#} two {#} many {#} other {#}}", 'lacks the plural form "few"'],
	])("are refused in %s with %s", (language, plural, problem) => {
		const catalogue = catalogues.find((one) => one.language === language)!;
		const text = catalogue.texts["retest.first"]!.replace(/\{days, plural,(?:[^{}]|\{[^{}]*\})*\}/, plural);
		expect(() => checkCatalogues([{ ...catalogue, texts: { ...catalogue.texts, "retest.first": text } }])).toThrow(problem);
	});

	it("say of each text whether a native speaker has read it as it stands", () => {
		const { texts } = catalogues[4]!;
		const review = { by: "Invented Reader", on: "2026-11-25", text: texts["jar.weak"]! };
		expect(reviewOf({ texts, reviewed: { "jar.weak": review } }, "jar.weak")).toEqual(review);
		expect(reviewOf({ texts, reviewed: { "jar.weak": { ...review, text: "as it stood before" } } }, "jar.weak")).toBeUndefined();
		expect(reviewOf({ texts, reviewed: {} }, "jar.weak")).toBeUndefined();
		for (const catalogue of catalogues) expect(Object.keys(TEXTS).filter((name) => reviewOf(catalogue, name))).toEqual([]);
	});

	it("are refused where a language is there twice", () => {
		expect(() => checkCatalogues([...catalogues, catalogues[1]!])).toThrow(/fr is there twice/);
	});

	it.each(catalogues.map((c) => [c.language, c] as const))("%s says who has reviewed it", (language, { review }) => {
		expect(review).toMatch(language === "en" ? /^Written by the authors/ : /^No native speaker has reviewed it yet/);
	});
});

describe("a text", () => {
	it("writes numbers as the recipient's language does: 4.6 in English, 4,6 in French, Spanish and Portuguese", () => {
		const strength = (language: string) => /\d[.,]\d/.exec(textOf("jar.weak", LONG, language, "en").text)?.[0];
		expect(["en", "fr", "es", "pt", "sw"].map(strength)).toEqual(["4.6", "4,6", "4,6", "4,6", "4.6"]);
	});

	// CLDR has Arabic-Indic digits for Sudan (٤٫٦); syringes and kits don't: a dose goes out in the digits that are read there.
	it.each(["ar-SD", "ar", "bn-BD", "sw-KE"])("writes numbers and dates in the digits 0 to 9 for %s too", (language) => {
		const { text } = textOf("dose.told", LONG, language, "en");
		expect(text).toMatch(/4[.,]6/);
		expect(text).toMatch(/28/);
		expect(text).not.toMatch(/(?![0-9])\p{Nd}/u);
	});

	// Source: CLDR plural rules for Arabic: one, two, few (3 to 10), many (11 to 99), other (100).
	it.each([
		[1, "يوم واحد"],
		[2, "يومين"],
		[3, "3 أيام"],
		[10, "10 أيام"],
		[11, "11 يوما"],
		[99, "99 يوما"],
		[100, "100 يوم"],
	])("counts %d days in Arabic as %s", (days, words) => {
		expect(textOf("retest.first", { ...LONG, days }, "ar", "en").text).toContain(`بعد ${words} قد`);
	});

	it("keeps a local date on its day wherever the program runs: 28 November is Nov 28", () => {
		expect(en("dose.told")).toContain("Test again Nov 28.");
		expect(textOf("dose.told", LONG, "en-KE", "en").text).toContain("Test again 28 Nov.");
		expect(textOf("dose.told", LONG, "fr", "en").text).toContain("28/11");
	});

	it("says for a jar of 21 days what the volunteer is to do, in one sentence each", () => {
		expect(en("retest.first")).toBe(
			"Test jar RED-BB-0148 today: after 21 days it may be too weak (23 % chance). Mix 1 mL with water to make 2.5 L, read the colour. Answer K7M4Q and the number.",
		);
		expect(en("retest.first", { ...LONG, days: 1 })).toContain("after 1 day it");
	});

	it("falls back to the programme's language, then to English, and says which it took", () => {
		expect(textOf("jar.testFirst", LONG, "ln", "fr").language).toBe("fr");
		expect(textOf("jar.testFirst", LONG, "ln", "xx").language).toBe("en");
		expect(textOf("jar.testFirst", LONG, "pt-MZ", "en").language).toBe("pt-MZ");
		expect(textOf("jar.testFirst", LONG, "fr-", "en").language).toBe("en");
		expect(["fr", "FR-cd", "sw-KE", "ln", "", "fr_", "en-"].filter(hasCatalogue)).toEqual(["fr", "FR-cd", "sw-KE"]);
	});

	it("leaves values alone that it has no place for, and takes no markup or placeholder from a value", () => {
		expect(en("jar.testFirst", { jar: "{code} <b>#</b> '", code: "K7M4Q" })).toContain("Jar {code} <b>#</b> ':");
	});

	it.each([
		["a name that isn't in the catalogues", "jar.strong", LONG],
		["a name of every object", "constructor", LONG],
		["a placeholder that isn't filled", "reply.closed", {}],
		["a number that isn't one", "jar.weak", { jar: "A", strengthGPerL: Number.NaN }],
		["text for a number", "jar.weak", { jar: "A", strengthGPerL: "4" }],
		["a date that isn't one", "dose.told", { ...LONG, nextTestOn: "28.11.2026" }],
	])("is refused for %s", (_, name, fill) => {
		expect(() => textOf(name, fill, "en", "en")).toThrow(/no text is named|needs a/);
	});
});

describe("a text as SMS, with the longest values", () => {
	// Arabic letters are UCS-2, 67 a part; everything else is written to fit the 7-bit alphabet.
	it.each(
		LANGUAGES.filter((language) => language !== "ar").flatMap((language) => NAMES.map((name) => [language, name] as const)),
	)("in %s, %s is one segment of 160 septets", (language, name) => {
		const { text } = textOf(name, LONG, language, "en");
		expect({ text, ...segmentsOf(text) }).toMatchObject({ encoding: "GSM-7", segments: 1 });
	});

	it.each(NAMES)("in Arabic, %s is at most three segments of 67", (name) => {
		const { segments } = segmentsOf(textOf(name, LONG, "ar", "en").text);
		expect(segments).toBeGreaterThan(0);
		expect(segments).toBeLessThanOrEqual(3);
	});

	it("uses every placeholder of every text", () => {
		for (const name of NAMES) for (const placeholder of Object.keys(fillingsOf(name))) expect(LONG).toHaveProperty(placeholder);
	});
});

describe("what a text tells people to answer", () => {
	it.each(LANGUAGES)("in %s, the reminder's word for not being able to is understood as that", (language) => {
		const { text } = textOf("retest.again", LONG, language, "en");
		const suggested = text.slice(text.lastIndexOf("K7M4Q")).replace(/\.$/, "");
		expect(parsedAnswer(suggested)).toEqual({ kind: "cannot", code: "K7M4Q" });
	});

	it.each(LANGUAGES)("in %s, the last word of the help stops messages", (language) => {
		const { text } = textOf("reply.help", LONG, language, "en");
		expect(parsedAnswer(text.slice(text.lastIndexOf(" ")))).toEqual({ kind: "stop" });
	});
});
