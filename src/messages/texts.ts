import { type Formatters, IntlMessageFormat } from "intl-messageformat";
import { DefectError } from "../errors/errors.js";
import { type Catalogue, catalogues } from "./catalogues.js";
import { type Filling, fillingsOf, isTextName, type TextName } from "./text-names.js";

export type Fill = Readonly<Record<string, unknown>>;

/** A text ready to go. */
export interface Rendered {
	readonly text: string;
	/** BCP 47: the recipient's own tag where there is a catalogue for it, else the fallback's. */
	readonly language: string;
}

/**
 * Fills a text of the catalogue.
 * @param name of the text
 * @param fill values for its placeholders; others are left alone
 * @param language the recipient's, BCP 47; a region decides how numbers and dates are written
 * @param fallbackLanguage of the programme, for a recipient whose language has no catalogue or lacks the text; English where that has none either
 * @throws DefectError for a name that isn't in the catalogues, or a placeholder that isn't filled
 */
export function textOf(name: string, fill: Fill, language: string, fallbackLanguage: string): Rendered {
	if (!isTextName(name)) throw new DefectError(`no text is named "${name}"`);
	const used = [language, fallbackLanguage].find((tag) => hasCatalogue(tag) && catalogueOf(tag).texts[name]) ?? "en";
	// Composed: a name that came in decomposed would cost more, and look different on some phones.
	return { text: (formatOf(name, used).format(valuesOf(name, fill)) as string).normalize("NFC"), language: used };
}

/** @returns whether the language, with or without a region, has a catalogue of its own */
export function hasCatalogue(language: string): boolean {
	let known = spoken.get(language);
	if (known === undefined) {
		known = byLanguage.has(languageAlone(language)) && isWellFormed(language);
		// Language tags come with people: a list of odd ones mustn't fill the memory.
		if (spoken.size < MOST_KEPT) spoken.set(language, known);
	}
	return known;
}

const MOST_KEPT = 2000;
const spoken = new Map<string, boolean>();
const byLanguage: ReadonlyMap<string, Catalogue> = new Map(catalogues.map((catalogue) => [catalogue.language, catalogue]));

/** Of a language that has one. */
function catalogueOf(tag: string): Catalogue {
	return byLanguage.get(languageAlone(tag)) as Catalogue;
}

function languageAlone(tag: string): string {
	const end = tag.search(/[-_]/);
	return (end < 0 ? tag : tag.slice(0, end)).toLowerCase();
}

function valuesOf(name: TextName, fill: Fill): Record<string, string | number | Date> {
	const values: Record<string, string | number | Date> = {};
	const fillings = fillingsOf(name);
	for (const placeholder in fillings)
		values[placeholder] = filledWith(name, placeholder, fillings[placeholder]!, fill[placeholder]);
	return values;
}

/** @throws DefectError for a value that isn't of the kind that the placeholder takes */
export function filledWith(name: string, placeholder: string, filling: Filling, value: unknown): string | number | Date {
	if (filling === "text" && (typeof value === "string" || typeof value === "number")) return String(value);
	if (filling === "number" && typeof value === "number" && Number.isFinite(value)) return value;
	// A local date has no zone: it stays the same day because it is read and written in UTC.
	if (filling === "date" && typeof value === "string" && LOCAL_DATE.test(value)) return new Date(`${value}T00:00:00Z`);
	throw new DefectError(`the text "${name}" needs a ${filling} for {${placeholder}}`);
}

const LOCAL_DATE = /^\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])$/;

/** Parsing a text and building its number formats costs a hundred times what filling it does. */
const formats = new Map<string, IntlMessageFormat>();

function formatOf(name: TextName, language: string): IntlMessageFormat {
	const key = `${language} ${name}`;
	const known = formats.get(key);
	if (known) return known;
	const catalogue = catalogueOf(language);
	const made = new IntlMessageFormat(catalogue.texts[name]!, language, undefined, { formatters: formattersOf(language) });
	if (formats.size < MOST_KEPT) formats.set(key, made);
	return made;
}

function isWellFormed(tag: string): boolean {
	try {
		return Intl.getCanonicalLocales(tag).length === 1;
	} catch {
		return false;
	}
}

const formattersByLocale = new Map<string, Formatters>();

/**
 * Numbers and dates go out in the digits 0 to 9 in every language. Syringes, kits and task codes bear these, a dose is copied from the
 * text onto the syringe figure by figure, and some phones that show Arabic letters turn the order of Arabic-Indic figures round.
 */
const DIGITS = { numberingSystem: "latn" } as const;

/** The same formats again for the same options, which belong to a parsed text and so are few. */
export function formattersOf(locale: string): Formatters {
	const known = formattersByLocale.get(locale);
	if (known) return known;
	const number = kept(
		(options?: NumberOptions) => new Intl.NumberFormat(locale, { ...(options as Intl.NumberFormatOptions), ...DIGITS }),
	);
	const date = kept(
		(options?: Intl.DateTimeFormatOptions) => new Intl.DateTimeFormat(locale, { ...options, ...DIGITS, timeZone: "UTC" }),
	);
	const plural = kept((type?: Intl.PluralRuleType) => new Intl.PluralRules(locale, type ? { type } : {}));
	const made: Formatters = {
		getNumberFormat: (_, options) => number(options),
		getDateTimeFormat: (_, options) => date(options),
		getPluralRules: (_, options) => plural(options?.type),
	};
	if (formattersByLocale.size < MOST_KEPT) formattersByLocale.set(locale, made);
	return made;
}

type NumberOptions = Parameters<Formatters["getNumberFormat"]>[1];

function kept<O, T>(make: (options?: O) => T): (options?: O) => T {
	const made = new Map<O | undefined, T>();
	return (options) => {
		let known = made.get(options);
		if (!known) {
			known = make(options);
			made.set(options, known);
		}
		return known;
	};
}
