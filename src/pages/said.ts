import { type Html, html } from "./html.js";
import type { Words } from "./words.js";

/** A sentence that a service said in English, in the visitor's language; one that isn't known is shown as what it is. */
export function toldAgain(sentence: string, words: Words): Html {
	const told = words.said(sentence);
	return told === undefined ? html`<span lang="en" dir="ltr">${sentence}</span>` : html`${told}`;
}
