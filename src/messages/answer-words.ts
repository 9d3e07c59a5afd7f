import { distance } from "fastest-levenshtein";
import { catalogues, type WordKind } from "./catalogues.js";

/** Words of an answer in the spelling in which they are compared: lower case, without accents, apostrophes, Arabic vowel marks and stretching. */
export function foldedWord(word: string): string {
	return word
		.normalize("NFKD")
		.toLowerCase()
		.replace(/[\p{M}\p{Cf}'’ʼ`´\u0640]/gu, "")
		.replaceAll("ى", "ي")
		.replaceAll("ة", "ه");
}

/** The longest phrase, in words. */
export const LONGEST_PHRASE = 4;

/** Every phrase of every language, folded, and what it means. The same phrase may mean the same in several languages. */
const meanings: ReadonlyMap<string, ReadonlySet<WordKind>> = (() => {
	const all = new Map<string, Set<WordKind>>();
	for (const { words } of catalogues)
		for (const [kind, phrases] of Object.entries(words) as [WordKind, readonly string[]][])
			for (const phrase of phrases) {
				const folded = phrase.split(" ").map(foldedWord).join(" ");
				all.set(folded, (all.get(folded) ?? new Set()).add(kind));
			}
	return all;
})();

/** @returns whether a phrase, already folded, means this in any language */
export function means(phrase: string, kind: WordKind): boolean {
	return meanings.get(phrase)?.has(kind) ?? false;
}

/** What a person may answer in one word. */
export type Said = "done" | "cannot" | "later" | "help" | "stop";
const SAID: readonly Said[] = ["stop", "cannot", "later", "help", "done"];

/** Shorter words are too near to others: "none" is one letter from "done", "cans" from "cant". */
const SHORTEST_TO_FORGIVE = 5;
const LONGEST_TO_FORGIVE = 32;

/**
 * What a phrase says, if only that: exactly, or one letter wrong, missing, added, or swapped with its neighbour.
 * @param phrase folded
 * @returns undefined also where it is as near to one meaning as to another
 */
export function saidBy(phrase: string): Said | undefined {
	const exact = SAID.find((said) => means(phrase, said));
	if (exact) return exact;
	if (phrase.length < SHORTEST_TO_FORGIVE || phrase.length > LONGEST_TO_FORGIVE) return undefined;
	const near = new Set<Said>();
	for (const [known, kinds] of meanings)
		if (known.length >= SHORTEST_TO_FORGIVE && isOneEditAway(phrase, known))
			for (const said of SAID) if (kinds.has(said)) near.add(said);
	return near.size === 1 ? [...near][0] : undefined;
}

function isOneEditAway(typed: string, known: string): boolean {
	if (Math.abs(typed.length - known.length) > 1) return false;
	if (distance(typed, known) <= 1) return true;
	if (typed.length !== known.length) return false;
	const at = [...known].findIndex((letter, i) => letter !== typed[i]);
	return typed === known.slice(0, at) + known[at + 1] + known[at] + known.slice(at + 2);
}
