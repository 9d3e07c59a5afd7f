import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { definitionOf } from "../../src/audit/coverage/indicator.js";
import { indicators } from "../../src/audit/coverage/list.js";
import { instructed, instructionTexts } from "../../src/duties/instructions.js";
import { dutyKinds } from "../../src/duties/list.js";
import { TextBook } from "../../src/messages/text-book.js";
import { definedIn } from "../../src/pages/office/definitions.js";
import { pageTexts } from "../../src/pages/texts.js";
import { JOBS } from "../../src/pages/volunteer/jobs.js";
import { wordsIn } from "../../src/pages/words.js";
import { policyFrom } from "../../src/programme/policy.js";
import { Calendars } from "../../src/stock/places.js";
import { VirtualClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { SeededRandomness } from "../../src/time/randomness.js";
import { LANGUAGE_CATALOGUES } from "../support/page-catalogues.js";

describe("the texts of pages and instructions", () => {
	it("are all there in every language", () => {
		expect([...pageTexts.gaps(), ...instructionTexts.gaps()]).toEqual([]);
		expect(pageTexts.languages).toEqual(instructionTexts.languages);
	});

	it("stand in one file of a language alone, and each file says who has reviewed it", () => {
		for (const language of pageTexts.languages) {
			const own = LANGUAGE_CATALOGUES.filter((one) => one.language === language && one.of.startsWith("pages/"));
			const names = own.flatMap(({ texts }) => Object.keys(texts));
			expect({ language, twice: names.filter((name, i) => names.indexOf(name) !== i) }).toEqual({ language, twice: [] });
			expect(own.filter(({ review }) => !/review/.test(review))).toEqual([]);
		}
	});

	it("are each shown by some page or task: no text is left that nobody says", () => {
		const said = saidIn(sourcesOf("src/pages", "src/duties"));
		const english = LANGUAGE_CATALOGUES.filter(({ language }) => language === "en");
		const unused = english.flatMap(({ texts }) => Object.keys(texts).filter((name) => !isSaid(name) && !said(name)));
		expect(unused).toEqual([]);
	});

	it("know the sentences that are told again in another language as the program says them, word for word", () => {
		const source = sourcesOf("src").replaceAll("\\'", "'");
		const english = LANGUAGE_CATALOGUES.filter(({ language }) => language === "en");
		const parts = english.flatMap(({ texts }) =>
			Object.entries(texts).flatMap(([name, text]) => (isSaid(name) ? text.split(/\{\w+\}|[^\w' /-]+/) : [])),
		);
		expect(parts.length).toBeGreaterThan(30);
		expect(parts.map((part) => part.trim()).filter((part) => /[a-z]{2}/i.test(part) && !source.includes(part))).toEqual([]);
	});

	it("tell again in her language why a task is due, as it was said when it was opened", () => {
		const reasons = "inspect is due after 90 days; 95 have gone by; its electrode has run 812 hours; a new one is ordered at 800";
		const care = { generator: "G1", reasons, electrodeHours: 812, lifeLowHours: 100, lifeHighHours: 400 };
		expect(instructed("care.why", care, "en")).toContain(`Generator G1: ${reasons}.`);
		expect(instructed("care.why", care, "fr")).toBe(
			"Appareil G1: regarder l'électrode: tous les 90 jours, et 95 sont passés; son électrode a marché 812 heures; on en commande une neuve à 800. Son électrode a marché 812 heures et tiendra sans doute encore 100 à 400.",
		);
		const held = "B1 held 62.5 % (50 to 70 %) before the run, read at 12.31 V: not enough for it";
		expect(instructed("fault.battery", { batteryEvidence: held }, "es")).toContain(
			"B1 tenía 62,5\u00a0% (50 a 70\u00a0%) antes del ciclo, leída a 12,31 V: no bastaba.",
		);
		expect(instructed("battery.why", { reason: "somebody asked for it" }, "sw")).toContain("somebody asked for it");
	});

	it.each([
		[
			"fr",
			"amina has 4 households and can take on 3; 1 more are too many.",
			"amina: a 4 foyers et peut en prendre 3; 1 de plus, c'est trop.",
		],
		[
			"es",
			"Somebody else has given households away meanwhile: H12 (now with chausiku), H13 (now with nobody).",
			"Otra persona dio hogares mientras tanto: H12 (ahora con chausiku), H13 (ahora con nadie).",
		],
		[
			"pt",
			"4 volunteers have room for 30 of 34 households. Needed: about 2 more volunteers who can take on as much as the others, or room for 4 more households among those there are.",
			"4 voluntários têm lugar para 30 de 34 casas. É preciso: cerca de mais 2 voluntários que possam assumir tanto como os outros, ou lugar para mais 4 casas entre os que há.",
		],
		["sw", "volunteer amina isn't at work", "mhudumu amina hayuko kazini"],
		[
			"fr",
			"amina has 12.5 L a day and can take on 10; 2.5 L more are too many.",
			"amina: a 12,5 L par jour et peut en prendre 10; 2,5 L de plus, c'est trop.",
		],
		["en", "whatever a service says", "whatever a service says"],
		["fr", "whatever a service says", undefined],
		["fr", "task done", "tâche faite"],
		["fr", "task of somebody", undefined],
		["ar", "entry 01K at position 7 was removed", "أُزيل القيد \u206801K\u2069 \u2068في الموضع \u20687\u2069\u2069"],
	])("tell again in %s what a service said: %s", (language, sentence, told) => {
		expect(wordsIn(language, "UTC").said(sentence)).toBe(told);
	});

	it("write shares as CLDR has it, in every language but our own English", () => {
		for (const language of pageTexts.languages.filter((one) => one !== "en")) {
			const words = wordsIn(language, "UTC");
			const cldr = new Intl.NumberFormat(language, { style: "percent", numberingSystem: "latn", maximumFractionDigits: 1 });
			const bare = (text: string) => text.replace(/[\u200e\u2066-\u2069]/g, "");
			expect(bare(words("jars.percent", { percent: words.number(85.3, 1) }))).toBe(bare(cldr.format(0.853)));
		}
	});

	it("define each figure as it defines itself, word for word", () => {
		const policy = policyFrom({});
		for (const indicator of indicators) {
			const { words, missing, source } = definitionOf(indicator, policy);
			expect(definedIn(indicator, policy, wordsIn("en", "UTC"))).toEqual({ words, missing, source });
		}
	});

	it("tell grams, drops and pieces apart in every language", () => {
		for (const language of instructionTexts.languages) {
			const asked = (unit: string) => instructed("replenish.get", { unit, kind: "salt", quantity: 5, orderUpTo: 9 }, language);
			expect(new Set(["g", "drop", "piece"].map(asked)).size).toBe(3);
		}
	});

	it("name every kind of work", () => {
		const ids = new Ids(new VirtualClock(0), new SeededRandomness(1));
		const kinds = dutyKinds({ ids, calendars: new Calendars() }).map(({ name }) => name);
		expect(Object.keys(JOBS).sort()).toEqual(kinds.sort());
	});

	it.each([
		["a placeholder that is never filled", { "a.b": "Jar {jar} {what}" }, "asks for {what}"],
		["one left out", { "a.b": "Jar" }, "lacks {jar}"],
		["a choice left out", { "a.b": "Jar {jar}", "a.c": "{of, select, b {B} other {A}}" }, "lacks the choice of: c"],
		["a text that nobody shows", { "a.b": "Jar {jar}", "c.d": "x" }, "nobody shows"],
		["what isn't ICU MessageFormat", { "a.b": "Jar {jar" }, "isn't ICU MessageFormat"],
	])("are refused with %s", (_, texts, problem) => {
		const of = (language: string, known: Record<string, string>) => ({ language, review: "-", reviewed: {}, texts: known });
		const english = { "a.b": "Jar {jar}", "a.c": "{of, select, b {B} c {C} other {A}}" };
		expect(() => new TextBook([of("en", english), of("fr", texts)])).toThrow(problem);
	});

	it("set codes apart in a text that runs from the right (Unicode UAX #9, FSI and PDI), and write digits 0 to 9", () => {
		const words = wordsIn("ar", "Africa/Cairo");
		expect(words.direction).toBe("rtl");
		expect(words("job.retest", { jar: "FIG-J12" })).toBe("افحص العبوة \u2068FIG-J12\u2069");
		expect(words.number(1234.5)).toMatch(/^[0-9.,]+$/);
		expect(words.clock(Date.UTC(2026, 2, 3, 5, 7))).toBe("07:07");
	});

	it("count as CLDR has it: two tasks in Arabic have a form of their own", () => {
		expect(wordsIn("ar", "UTC")("today.title", { count: 2 })).toBe("اليوم: مهمتان");
		expect(wordsIn("en", "UTC")("today.title", { count: 1 })).toBe("Today: 1 task");
	});
});

/** Texts that are recognised in what was said, and not named. */
const isSaid = (name: string) => name.startsWith("said.");

function sourcesOf(...folders: readonly string[]): string {
	return folders
		.map((folder) => join(__dirname, "../..", folder))
		.flatMap((folder) => readdirSync(folder, { recursive: true, encoding: "utf8" }).map((name) => join(folder, name)))
		.filter((path) => path.endsWith(".ts"))
		.map((path) => readFileSync(path, "utf8"))
		.join("\n");
}

/** @returns whether a name of a text stands in some source, whole or as what a template makes */
function saidIn(sources: string): (name: string) => boolean {
	const whole = new Set([...sources.matchAll(/"([a-zA-Z]+(?:\.[\w]+)+)"/g)].map(([, name]) => name!));
	const made = [...sources.matchAll(/`((?:[\w.]|\$\{[^}]*\})+)`/g)]
		.map(([, template]) => template!)
		.map((template) => template.split(/\$\{[^}]*\}/))
		.filter((parts) => parts.length > 1 && parts.some((part) => /[a-z]\.|\.[a-z]/i.test(part)))
		.map((parts) => new RegExp(`^${parts.map((part) => part.replaceAll(".", "\\.")).join("[\\w.]+")}$`));
	return (name) => whole.has(name) || made.some((pattern) => pattern.test(name));
}
