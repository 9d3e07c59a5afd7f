import { IntlMessageFormat } from "intl-messageformat";
import { DefectError } from "../errors/errors.js";
import { type Catalogue, textProblems } from "./catalogues.js";
import type { Filling } from "./text-names.js";
import { type Fill, filledWith, formattersOf, type Rendered } from "./texts.js";

/** The texts of one language, without words to answer with. */
export type BookLanguage = Omit<Catalogue, "words">;

type Elements = ReturnType<IntlMessageFormat["getAst"]>;

/** The parser's numbers for what a placeholder is written as. */
const ELEMENT = { literal: 0, argument: 1, number: 2, date: 3, select: 5, plural: 6, pound: 7 } as const;

/**
 * Texts that aren't sent as messages, such as those of pages: by name, in every language there is. The first language has every
 * text; what another lacks is shown in the fallback's, and what that lacks in the first.
 */
export class TextBook<N extends string> {
	private readonly byLanguage: ReadonlyMap<string, BookLanguage>;
	private readonly fillings: ReadonlyMap<string, Readonly<Record<string, Filling | "choice">>>;
	/** What is chosen among in a text, as the first language has it. */
	private readonly choices: ReadonlyMap<string, ReadonlySet<string>>;
	private readonly formats = new Map<string, IntlMessageFormat>();
	private readonly patterns = new Map<string, readonly Pattern<N>[]>();

	/** @throws DefectError that names every text that can't be used */
	constructor(private readonly all: readonly [BookLanguage, ...BookLanguage[]]) {
		const [first] = all;
		this.byLanguage = new Map(all.map((one) => [one.language, one]));
		const parsed = Object.entries(first.texts).map(
			([name, text]) => [name, new IntlMessageFormat(text, first.language).getAst()] as const,
		);
		this.fillings = new Map(parsed.map(([name, elements]) => [name, fillingsIn(elements)]));
		this.choices = new Map(parsed.map(([name, elements]) => [name, choicesIn(elements)]));
		const problems = all.flatMap((one) => this.problemsOf(one));
		if (problems.length > 0) throw new DefectError(`The texts can't be used: ${problems.join("; ")}`);
	}

	get languages(): readonly string[] {
		return this.all.map(({ language }) => language);
	}

	/** @returns what each language lacks, "sw lacks today.title" */
	gaps(): string[] {
		return this.all.flatMap(({ language, texts }) =>
			[...this.fillings.keys()].flatMap((name) => (texts[name] ? [] : [`${language} lacks ${name}`])),
		);
	}

	/**
	 * @param language BCP 47, with or without a region, which decides how numbers and dates are written
	 * @returns the text filled, in the first of the languages that has it
	 * @throws DefectError for a placeholder that isn't filled
	 */
	text(name: N, fill: Fill, language: string, fallbackLanguage?: string): Rendered {
		const spoken = [language, fallbackLanguage].find((tag) => tag && this.byLanguage.get(alone(tag))?.texts[name]);
		const used = spoken ?? this.all[0].language;
		const values: Record<string, string | number | Date> = {};
		for (const [placeholder, filling] of Object.entries(this.fillings.get(name) ?? {})) {
			const given = fill[placeholder];
			const shown = filling === "text" && typeof given === "number" ? figureIn(used, given) : given;
			const value = filledWith(name, placeholder, filling === "choice" ? "text" : filling, shown);
			values[placeholder] = filling === "text" && isFromRight(used) ? isolated(String(value)) : value;
		}
		return { text: this.formatOf(name, used).format(values) as string, language: used };
	}

	/**
	 * Tells a sentence again that stands as it was made of one of the first language's texts: what records keep, and what services say.
	 * A placeholder `list` stands for some with commas between them, `what` for anything, `word` for what is such a text itself, every
	 * other for what holds no comma.
	 * @param beginning of the names of the texts that it may be made of
	 * @returns none where it was made of none of them
	 */
	retold(sentence: string, beginning: string, language: string): string | undefined {
		if (alone(language) === this.all[0].language) return sentence;
		if (sentence.length > LONGEST_TOLD) return undefined;
		for (const { name, placeholders, form } of this.patternsOf(beginning)) {
			const found = form.exec(sentence);
			if (!found || placeholders.some((one, i) => one === "word" && !this.retold(found[i + 1]!, beginning, language))) continue;
			const fill = placeholders.map((placeholder, i) => [
				placeholder,
				this.filledAgain(placeholder, found[i + 1]!, beginning, language),
			]);
			return this.text(name, Object.fromEntries(fill) as Fill, language).text;
		}
		return undefined;
	}

	/** What filled a sentence may be a sentence itself, a word of the program, a list of such, a figure, or a name that stays. */
	private filledAgain(placeholder: string, value: string, beginning: string, language: string): string | number {
		const again = (one: string) => this.retold(one, beginning, language);
		if (placeholder !== "list") return again(value) ?? asFigure(value);
		const between = isFromRight(language) ? "، " : ", ";
		return value
			.split(", ")
			.map((one) => again(one) ?? one)
			.join(between);
	}

	private patternsOf(beginning: string): readonly Pattern<N>[] {
		const known = this.patterns.get(beginning);
		if (known) return known;
		const { language, texts } = this.all[0];
		const made = Object.entries(texts)
			.filter(([name]) => name.startsWith(beginning))
			.map(([name, text]) => patternOf(name as N, new IntlMessageFormat(text, language).getAst()))
			.sort((a, b) => b.fixedLetters - a.fixedLetters);
		this.patterns.set(beginning, made);
		return made;
	}

	private formatOf(name: N, language: string): IntlMessageFormat {
		const key = `${language} ${name}`;
		const known = this.formats.get(key);
		if (known) return known;
		const text = this.byLanguage.get(alone(language))?.texts[name];
		if (text === undefined) throw new DefectError(`no text is named "${name}"`);
		const made = new IntlMessageFormat(text, language, undefined, { formatters: formattersOf(language) });
		if (this.formats.size < MOST_KEPT) this.formats.set(key, made);
		return made;
	}

	private problemsOf({ language, review, texts }: BookLanguage): string[] {
		const problems = review ? [] : [`${language} doesn't say who has reviewed it`];
		for (const [name, text] of Object.entries(texts)) {
			const fillings = this.fillings.get(name);
			if (!fillings) problems.push(`${language} has ${name}, which nobody shows`);
			else {
				const found = textProblems(text, language, Object.keys(fillings));
				const missing = found.length > 0 ? [] : this.choicesMissing(name, text, language);
				problems.push(...[...found, ...missing].map((problem) => `${language} ${name} ${problem}`));
			}
		}
		return problems;
	}

	/** A choice that is left out would be told as if it were any other. */
	private choicesMissing(name: string, text: string, language: string): string[] {
		const wanted = this.choices.get(name) ?? new Set();
		if (wanted.size === 0) return [];
		const found = choicesIn(new IntlMessageFormat(text, language).getAst());
		return [...wanted].filter((choice) => !found.has(choice)).map((choice) => `lacks the choice ${choice}`);
	}
}

/** What a sentence looks like that was made of a text. */
interface Pattern<N> {
	readonly name: N;
	readonly placeholders: readonly string[];
	readonly form: RegExp;
	readonly fixedLetters: number;
}

function patternOf<N extends string>(name: N, elements: Elements): Pattern<N> {
	const placeholders: string[] = [];
	let fixedLetters = 0;
	const form = elements.map((element) => {
		if (element.type === ELEMENT.literal && "value" in element) {
			fixedLetters += element.value.length;
			return element.value.replace(/[.*+?^${}()|[\]\\]/g, "\\$&");
		}
		if (element.type !== ELEMENT.argument || !("value" in element))
			throw new DefectError(`${name} can't be recognised in a sentence: it holds more than plain placeholders`);
		placeholders.push(element.value);
		return element.value === "what" ? "(.+?)" : element.value === "list" ? "([^;]+?)" : "([^;,]+?)";
	});
	return { name, placeholders, form: new RegExp(`^${form.join("")}$`, "u"), fixedLetters };
}

/** A code of digits stays as it is. */
function asFigure(value: string): string | number {
	return String(Number(value)) === value ? Number(value) : value;
}

/** Nothing of the program's own is longer; what people wrote may be. */
const LONGEST_TOLD = 1000;

/** Languages may come with any region: a list of odd ones mustn't fill the memory. */
const MOST_KEPT = 5000;

function alone(tag: string): string {
	return (tag.split(/[-_]/, 1)[0] as string).toLowerCase();
}

const FROM_RIGHT = new Set(["ar", "fa", "he", "ps", "ur"]);

/** @returns whether a language is written from the right to the left */
export function isFromRight(language: string): boolean {
	return FROM_RIGHT.has(alone(language));
}

/** Codes and names from elsewhere keep their own order in a text that runs the other way. Source: Unicode UAX #9, section 2.7 */
function isolated(text: string): string {
	return `\u2068${text}\u2069`;
}

/** @returns "kind: salt" for each thing that a text chooses among */
function choicesIn(elements: Elements): Set<string> {
	const found = new Set<string>();
	for (const element of elements) {
		if (!("options" in element)) continue;
		for (const [choice, option] of Object.entries(element.options)) {
			if (element.type === ELEMENT.select) found.add(`${element.value}: ${choice}`);
			for (const inner of choicesIn(option.value)) found.add(inner);
		}
	}
	return found;
}

const figures = new Map<string, Intl.NumberFormat>();

/** Digits 0 to 9, not grouped: an amount is copied from here onto a scale or a syringe figure by figure. */
function figureIn(language: string, figure: number): string {
	const known = figures.get(language);
	if (known) return known.format(figure);
	const made = new Intl.NumberFormat(language, { numberingSystem: "latn", useGrouping: false, maximumFractionDigits: 6 });
	if (figures.size < MOST_KEPT) figures.set(language, made);
	return made.format(figure);
}

/** @returns what each placeholder of a text is filled with, by how it is written; a choice is a word of the program, never shown */
function fillingsIn(elements: Elements): Record<string, Filling | "choice"> {
	const found: Record<string, Filling | "choice"> = {};
	for (const element of elements) {
		if (element.type === ELEMENT.literal || element.type === ELEMENT.pound || !("value" in element)) continue;
		const isNumber = element.type === ELEMENT.number || element.type === ELEMENT.plural;
		const isChoice = element.type === ELEMENT.select;
		found[String(element.value)] = isNumber ? "number" : isChoice ? "choice" : element.type === ELEMENT.date ? "date" : "text";
		if ("options" in element)
			for (const option of Object.values(element.options)) Object.assign(found, { ...fillingsIn(option.value), ...found });
	}
	return found;
}
