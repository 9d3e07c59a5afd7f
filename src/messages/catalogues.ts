import { IntlMessageFormat } from "intl-messageformat";
import { DefectError } from "../errors/errors.js";
import { fillingsOf, isTextName, TEXTS, type TextName } from "./text-names.js";
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
	readonly words: Readonly<Record<WordKind, readonly string[]>>;
}

/** Every language that the program speaks. A new one is a file and a line. */
export const catalogues: readonly Catalogue[] = [en, fr, es, pt, sw, ar];

/**
 * Refuses a catalogue with a gap: every language has every text, each with the placeholders that the program fills and no other.
 * @throws DefectError that names every gap
 */
export function checkCatalogues(all: readonly Catalogue[] = catalogues): void {
	const problems = all.flatMap(problemsOf);
	const languages = all.map(({ language }) => language);
	problems.push(
		...languages.filter((language, i) => languages.indexOf(language) !== i).map((twice) => `${twice} is there twice`),
	);
	if (problems.length > 0) throw new DefectError(`The catalogues of texts can't be used: ${problems.join("; ")}`);
}

function problemsOf({ language, review, texts, words }: Catalogue): string[] {
	const problems: string[] = [];
	if (!review) problems.push(`${language} doesn't say who has reviewed it`);
	for (const name of Object.keys(TEXTS)) if (!texts[name]) problems.push(`${language} lacks ${name}`);
	for (const kind of WORD_KINDS) if (!words[kind]?.length) problems.push(`${language} lacks words for ${kind}`);
	for (const [name, text] of Object.entries(texts)) {
		if (!isTextName(name)) problems.push(`${language} has ${name}, which nobody sends`);
		else problems.push(...textProblems(name, text, language).map((problem) => `${language} ${name} ${problem}`));
	}
	return problems;
}

function textProblems(name: TextName, text: string, language: string): string[] {
	let found: Set<string>;
	try {
		found = placeholdersOf(new IntlMessageFormat(text, language).getAst());
	} catch (error) {
		return [`isn't ICU MessageFormat (${(error as Error).message})`];
	}
	const wanted = Object.keys(fillingsOf(name));
	return [
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
