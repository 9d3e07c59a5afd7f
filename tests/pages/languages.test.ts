import { IntlMessageFormat } from "intl-messageformat";
import { pageTexts } from "../../src/pages/texts.js";
import { LANGUAGE_CATALOGUES } from "../support/page-catalogues.js";
import { onEachDatabase } from "../support/stores.js";
import { type Look, putOneOfEach, SEEN_BY } from "./one-of-each.js";
import { type ServedSite, servedSite, withoutToken } from "./site.js";

/** Of our own, and of standards: they are the same in every language. */
const NAMES = /Jarwatch|JARWATCH_NOTIFIERS|jarwatch ledger verify|GeoJSON|SHA-256|CSV|HXL|ADX|Wilson|DPD/g;

onEachDatabase("pages in every language", (kind) => {
	let site: ServedSite;
	let data: string[] = [];
	const cookies: Record<string, string> = {};
	let looks: readonly Look[] = [];
	beforeAll(async () => {
		site = await servedSite(kind);
		looks = await putOneOfEach(site);
		for (const id of Object.values(SEEN_BY)) cookies[id] = (await site.signedIn(id)).cookie;
		data = await namesAndCodes();
	}, 120_000);
	afterAll(() => site.close());

	async function namesAndCodes(): Promise<string[]> {
		const rows = await Promise.all(
			["area", "person"].map((table) => site.world.store.query<{ name: string }>(`SELECT name FROM ${table}`)),
		);
		const codes = await Promise.all(
			["area", "person", "household", "container", "generator", "batch", "task"].map((table) =>
				site.world.store.query<{ code: string }>(`SELECT code FROM ${table}`),
			),
		);
		return [...rows.flat().map(({ name }) => name), ...codes.flat().map(({ code }) => code)].sort((a, b) => b.length - a.length);
	}

	async function shown(at: string, by: string | undefined, language: string): Promise<string> {
		const headers: Record<string, string> = by
			? { cookie: `${cookies[by]}; jarwatch-language=${language}` }
			: { "accept-language": `${language}, en;q=0.5` };
		const answer = await fetch(site.address + at, { headers, redirect: "manual" });
		expect({ at, status: answer.status }).toEqual({ at, status: 200 });
		return withoutToken(await answer.text());
	}

	it.each(pageTexts.languages.filter((language) => language !== "en"))(
		"are told in %s without a text left in English or a placeholder left open, each of them",
		async (language) => {
			const english = englishOnly(language);
			const leftOver: object[] = [];
			for (const { at, by } of looks) {
				const page = await shown(at, by, language);
				expect({ at, tag: /<html [^>]*>/.exec(page)?.[0] }).toEqual({
					at,
					tag: `<html lang="${language}" dir="${language === "ar" ? "rtl" : "ltr"}">`,
				});
				const said = saidOn(page);
				const left = [
					...said.filter((words) => english.whole.has(words) || english.parts.some((part) => words.includes(part))),
					...said.filter((words) => /[{}]/.test(words)),
				];
				if (left.length > 0) leftOver.push({ at, left });
			}
			expect(leftOver).toEqual([]);
		},
		60_000,
	);

	it("are written in Arabic throughout: nothing in Latin letters is left but names, codes and what a sentence sets apart", async () => {
		const leftOver: object[] = [];
		for (const { at, by } of looks) {
			const left = saidOn(await shown(at, by, "ar")).flatMap((words) => {
				const ours = words.replace(/[\u2066-\u2068][^\u2069]*\u2069/g, "").replace(NAMES, "");
				const others = data.reduce((text, name) => text.replaceAll(name, ""), ours);
				return /[A-Za-z]{2}/.test(others) ? [words] : [];
			});
			if (left.length > 0) leftOver.push({ at, left });
		}
		expect(leftOver).toEqual([]);
	}, 60_000);
});

/** What is read or read out on a page, piece by piece, but for names and codes set apart, languages' own names, and what says that it is English. */
function saidOn(page: string): string[] {
	const body = page
		.replace(/<(style|script|bdi|code|option[^>]* lang)\b[\s\S]*?<\/\w+>/g, "")
		.replace(/<span class="who">[^<]*<\/span>/, "")
		.replace(/<(span|p|div) lang="en"[\s\S]*?<\/\1>/g, "");
	const readOut = [...body.matchAll(/ (?:aria-label|title|alt|placeholder|data-title|data-offline|data-leaving)="([^"]*)"/g)];
	return [...body.split(/<[^>]*>/), ...readOut.map(([, text]) => text!)]
		.map((text) => text.replace(/&#(\d+);/g, (_, code) => String.fromCharCode(Number(code))).trim())
		.filter((text) => text !== "");
}

type Elements = ReturnType<IntlMessageFormat["getAst"]>;

/** @returns what stands between the placeholders of a text */
function literalsOf(elements: Elements): string[] {
	return elements.flatMap((element) =>
		"options" in element
			? Object.values(element.options).flatMap(({ value }) => literalsOf(value))
			: element.type === 0 && "value" in element
				? [element.value.trim()]
				: [],
	);
}

/** @returns English that another language doesn't have in its own texts: whole texts, and parts of two words or more */
function englishOnly(language: string): { whole: ReadonlySet<string>; parts: readonly string[] } {
	const of = (tag: string) =>
		LANGUAGE_CATALOGUES.filter((one) => one.language === tag).flatMap(({ texts }) =>
			Object.values(texts).flatMap((text) => literalsOf(new IntlMessageFormat(text, tag).getAst())),
		);
	const theirs = new Set(of(language));
	const english = of("en").filter((literal) => !theirs.has(literal) && /[a-z]{3}/i.test(literal));
	return { whole: new Set(english), parts: english.filter((literal) => /[a-z]+ [a-z]+/i.test(literal) && literal.length > 8) };
}
