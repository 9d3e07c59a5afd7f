import { type BookLanguage, TextBook } from "../messages/text-book.js";
import ar from "./texts/ar.json" with { type: "json" };
import en from "./texts/en.json" with { type: "json" };
import es from "./texts/es.json" with { type: "json" };
import fr from "./texts/fr.json" with { type: "json" };
import pt from "./texts/pt.json" with { type: "json" };
import saidAr from "./texts/said/ar.json" with { type: "json" };
import saidEn from "./texts/said/en.json" with { type: "json" };
import saidEs from "./texts/said/es.json" with { type: "json" };
import saidFr from "./texts/said/fr.json" with { type: "json" };
import saidPt from "./texts/said/pt.json" with { type: "json" };
import saidSw from "./texts/said/sw.json" with { type: "json" };
import staffAr from "./texts/staff/ar.json" with { type: "json" };
import staffEn from "./texts/staff/en.json" with { type: "json" };
import staffEs from "./texts/staff/es.json" with { type: "json" };
import staffFr from "./texts/staff/fr.json" with { type: "json" };
import staffPt from "./texts/staff/pt.json" with { type: "json" };
import staffSw from "./texts/staff/sw.json" with { type: "json" };
import sw from "./texts/sw.json" with { type: "json" };

/** A volunteer's pages and those of who leads are told by people of their own; sentences of services are recognised and told again. */
export type PageText = keyof (typeof en)["texts"] | keyof (typeof staffEn)["texts"] | keyof (typeof saidEn)["texts"];

/** Every text of the pages. A new one is a line in each catalogue; English has them all. */
export const pageTexts = new TextBook<PageText>([
	together(en, staffEn, saidEn),
	together(fr, staffFr, saidFr),
	together(es, staffEs, saidEs),
	together(pt, staffPt, saidPt),
	together(sw, staffSw, saidSw),
	together(ar, staffAr, saidAr),
]);

/** Each language by its own name. */
export const LANGUAGE_NAMES: Readonly<Record<string, string>> = {
	en: "English",
	fr: "Français",
	es: "Español",
	pt: "Português",
	sw: "Kiswahili",
	ar: "العربية",
};

function together(...parts: readonly [BookLanguage, ...BookLanguage[]]): BookLanguage {
	const [{ language, review }] = parts;
	const all = (of: "texts" | "reviewed") => Object.assign({}, ...parts.map((part) => part[of]));
	return { language, review, texts: all("texts"), reviewed: all("reviewed") };
}
