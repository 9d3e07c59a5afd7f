import { isFromRight } from "../messages/text-book.js";
import type { Fill } from "../messages/texts.js";
import { type PageText, pageTexts } from "./texts.js";

/** Says a text of pages in one visitor's language. */
export interface Words {
	(name: PageText, fill?: Fill): string;
	/** BCP 47. */
	readonly language: string;
	readonly direction: "ltr" | "rtl";
	/** Of the visitor, for days and times of day. */
	readonly timeZone: string;
	number(value: number, mostDigits?: number): string;
	day(atMs: number): string;
	/** A day with its year. @param localDate 'YYYY-MM-DD', which stays the same day in every zone */
	date(localDate: string): string;
	/** Day and time of day. */
	moment(atMs: number): string;
	clock(atMs: number): string;
	/** @param month 'YYYY-MM' */
	month(month: string): string;
	/** @returns a sentence that a service said in English, in this language; none where it isn't known */
	said(sentence: string): string | undefined;
	/** Some codes, one after another. */
	list(codes: readonly string[]): string;
}

/** Digits 0 to 9 in every language, as syringes, kits and task codes bear them. */
const DIGITS = { numberingSystem: "latn" } as const;
/** As messages write a day: skeleton yMMMd of CLDR. */
const DATE = { year: "numeric", month: "short", day: "numeric" } as const;

/** @param language one that has texts, with or without a region */
export function wordsIn(language: string, timeZone: string): Words {
	const say = (name: PageText, fill: Fill = {}) => pageTexts.text(name, fill, language).text;
	const isEnglish = /^en\b/.test(language);
	const formatted = (options: Intl.DateTimeFormatOptions) => {
		const format = dateFormat(language, timeZone, options);
		return (atMs: number) => format.format(atMs);
	};
	return Object.assign(say, {
		language,
		direction: isFromRight(language) ? ("rtl" as const) : ("ltr" as const),
		timeZone,
		number: (value: number, mostDigits = 2) => numberFormat(language, mostDigits).format(value),
		day: formatted({ weekday: "short", day: "numeric", month: "short" }),
		date: (localDate: string) => dateFormat(language, "UTC", DATE).format(Date.parse(`${localDate}T00:00:00Z`)),
		moment: formatted({ weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" }),
		clock: formatted({ hour: "2-digit", minute: "2-digit" }),
		month: (month: string) =>
			// English has months as addresses and files have them.
			isEnglish
				? month
				: dateFormat(language, "UTC", { month: "short", year: "numeric" }).format(Date.parse(`${month}-01T00:00:00Z`)),
		said: (sentence: string) => pageTexts.retold(sentence, "said.", language),
		list: (codes: readonly string[]) => codes.join(isFromRight(language) ? "، " : ", "),
	} as const);
}

const numbers = new Map<string, Intl.NumberFormat>();

function numberFormat(language: string, mostDigits: number): Intl.NumberFormat {
	const key = `${language} ${mostDigits}`;
	const known = numbers.get(key);
	if (known) return known;
	const made = new Intl.NumberFormat(language, { ...DIGITS, maximumFractionDigits: mostDigits });
	numbers.set(key, made);
	return made;
}

const dates = new Map<string, Intl.DateTimeFormat>();

/** Zones and languages come with people: a list of odd ones mustn't fill the memory. */
const MOST_KEPT = 1000;

function dateFormat(language: string, timeZone: string, options: Intl.DateTimeFormatOptions): Intl.DateTimeFormat {
	const key = `${language} ${timeZone} ${JSON.stringify(options)}`;
	const known = dates.get(key);
	if (known) return known;
	const made = new Intl.DateTimeFormat(language, { ...DIGITS, ...options, hourCycle: "h23", timeZone });
	if (dates.size < MOST_KEPT) dates.set(key, made);
	return made;
}
