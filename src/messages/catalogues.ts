import { IntlMessageFormat } from "intl-messageformat";
import { DefectError } from "../errors/errors.js";
import { fillingsOf, isTextName, TEXTS } from "./text-names.js";
import ar from "./texts/ar.json" with { type: "json" };
import en from "./texts/en.json" with { type: "json" };
import es from "./texts/es.json" with { type: "json" };
import fr from "./texts/fr.json" with { type: "json" };
import pt from "./texts/pt.json" with { type: "json" };
import sw from "./texts/sw.json" with { type: "json" };

/** Words that an answer may be made of, by what they mean. */
export const WORD_KINDS = [
	"done",
	"cannot",
	"later",
	"help",
	"stop",
	"moreThan",
	"orMore",
	"fillers",
	"units",
	"perLitre",
] as const;
export type WordKind = (typeof WORD_KINDS)[number];

/** The texts and answering words of one language. */
export interface Catalogue {
	/** BCP 47, the language alone. */
	readonly language: string;
	/** Who has read it, so that nobody takes it for more than it is. */
	readonly review: string;
	readonly texts: Readonly<Record<string, string>>;
	/** Texts that a native speaker has read, by name; every other one nobody has, and one that was changed since counts as that. */
	readonly reviewed: Readonly<Record<string, Review>>;
	readonly words: Readonly<Record<WordKind, readonly string[]>>;
}

/** Who has read a text, when, and what stood there then. */
export interface Review {
	readonly by: string;
	/** Local date 'YYYY-MM-DD'. */
	readonly on: string;
	readonly text: string;
}

/** Every language that the program speaks. A new one is a file and a line. */
export const catalogues: readonly Catalogue[] = [en, fr, es, pt, sw, ar];

/** The language that has every text: what another lacks is sent in the programme's, and what that lacks in this. */
const COMPLETE = "en";

/** @returns what each language lacks of the texts, "sw lacks reply.kept"; such a text goes out in the programme's language */
export function catalogueGaps(all: readonly Catalogue[] = catalogues): string[] {
	return all.flatMap(({ language, texts }) =>
		Object.keys(TEXTS).flatMap((name) => (texts[name] ? [] : [`${language} lacks ${name}`])),
	);
}

/** @returns when and by whom a text was read as it stands now; none: nobody has read it */
export function reviewOf({ reviewed, texts }: Pick<Catalogue, "reviewed" | "texts">, name: string): Review | undefined {
	const review = Object.hasOwn(reviewed, name) ? reviewed[name] : undefined;
	return review?.text === texts[name] ? review : undefined;
}

/**
 * Refuses catalogues that can't be used: English has every text, and every text has the placeholders that the program fills and no
 * other, and the plural forms that its language needs. Gaps of other languages are told by `catalogueGaps`.
 * @throws DefectError that names every problem
 */
export function checkCatalogues(all: readonly Catalogue[] = catalogues): void {
	const problems = all.flatMap(problemsOf);
	const languages = all.map(({ language }) => language);
	problems.push(
		...languages.filter((language, i) => languages.indexOf(language) !== i).map((twice) => `${twice} is there twice`),
	);
	if (problems.length > 0) throw new DefectError(`The catalogues of texts can't be used: ${problems.join("; ")}`);
}

function problemsOf(catalogue: Catalogue): string[] {
	const { language, review, reviewed, texts, words } = catalogue;
	const problems: string[] = [];
	if (!review) problems.push(`${language} doesn't say who has reviewed it`);
	if (language === COMPLETE) problems.push(...catalogueGaps([catalogue]));
	for (const [name, { by, on }] of Object.entries(reviewed))
		if (!isTextName(name) || !by || !/^\d{4}-\d\d-\d\d$/.test(on))
			problems.push(`${language} has a review of ${name} that names no text, nobody or no day`);
	for (const kind of WORD_KINDS) if (!words[kind]?.length) problems.push(`${language} lacks words for ${kind}`);
	for (const [name, text] of Object.entries(texts)) {
		if (!text) continue;
		if (!isTextName(name)) problems.push(`${language} has ${name}, which nobody sends`);
		else
			problems.push(
				...textProblems(text, language, Object.keys(fillingsOf(name))).map((problem) => `${language} ${name} ${problem}`),
			);
	}
	return problems;
}

/** @returns what is wrong with a text: its form, its plurals, or placeholders that aren't those that are filled */
export function textProblems(text: string, language: string, wanted: readonly string[]): string[] {
	let found: Set<string>;
	let plurals: string[];
	try {
		const elements = new IntlMessageFormat(text, language).getAst();
		found = placeholdersOf(elements);
		plurals = pluralProblems(elements, language);
	} catch (error) {
		return [`isn't ICU MessageFormat (${(error as Error).message})`];
	}
	return [
		...plurals,
		...wanted.filter((placeholder) => !found.has(placeholder)).map((missing) => `lacks {${missing}}`),
		...[...found]
			.filter((placeholder) => !wanted.includes(placeholder))
			.map((strange) => `asks for {${strange}}, which is never filled`),
	];
}

type Elements = ReturnType<IntlMessageFormat["getAst"]>;
/** The parser's numbers for plain text and for the number of a plural. */
const LITERAL = 0;
const POUND = 7;

function placeholdersOf(elements: Elements): Set<string> {
	const found = new Set<string>();
	for (const element of elements) {
		if (element.type === LITERAL || element.type === POUND) continue;
		found.add(element.value);
		if ("options" in element)
			for (const option of Object.values(element.options)) for (const inner of placeholdersOf(option.value)) found.add(inner);
	}
	return found;
}

/** Whole numbers beyond these need no other form in any language that CLDR knows, but for millions. */
const MOST_COUNTED = 200;

const forms = new Map<string, ReadonlySet<string>>();

/** @returns the forms that whole numbers ask for in a language; asked for at each of some thousand texts when the program starts */
function formsOf(language: string): ReadonlySet<string> {
	const known = forms.get(language);
	if (known) return known;
	const rules = new Intl.PluralRules(language);
	const needed = new Set(Array.from({ length: MOST_COUNTED + 1 }, (_, number) => rules.select(number) as string));
	forms.set(language, needed);
	return needed;
}

/** Every plural has each form that a whole number asks for in the language. Source: Unicode CLDR, plural rules, as the runtime has them. */
function pluralProblems(elements: Elements, language: string): string[] {
	const needed = formsOf(language);
	return elements.flatMap((element) => {
		if (!("options" in element)) return [];
		const inner = Object.values(element.options).flatMap((option) => pluralProblems(option.value, language));
		if (!("pluralType" in element)) return inner;
		const missing = [...needed].filter((form) => !Object.hasOwn(element.options, form));
		return [...missing.map((form) => `lacks the plural form "${form}" of {${element.value}}`), ...inner];
	});
}
