import type { Randomness } from "../time/randomness.js";

/** What can't be mistaken for another on a small screen or in handwriting: no 0 and O, 1, I and L, 2 and Z, 5 and S, 8 and B, U and V. */
const ALPHABET = "34679ACDEFGHJKMNPQRTWXY";
const LETTERS = ALPHABET.replace(/\d/g, "");
/** All different and none 0 modulo 23, a prime: a single wrong character and a swap of neighbours both change the sum. */
const WEIGHTS = [5, 4, 3, 2, 1] as const;
export const TASK_CODE_LENGTH = WEIGHTS.length;

/**
 * A code to be typed on a phone: a letter, three characters of chance, a check character; at least one is a digit,
 * so that no word of any language is ever a code.
 * Source: weighted sum modulo a prime, as in ISBN-10 (ISO 2108:1992); alphabet and weights are our own choice.
 */
export function newTaskCode(randomness: Randomness): string {
	for (;;) {
		let code = LETTERS.charAt(randomness.below(LETTERS.length));
		for (let i = 1; i < TASK_CODE_LENGTH - 1; i++) code += ALPHABET[randomness.below(ALPHABET.length)];
		code += ALPHABET[(ALPHABET.length - (weightedSum(code) % ALPHABET.length)) % ALPHABET.length];
		if (/\d/.test(code)) return code;
	}
}

/** @returns the code that the text is, in capitals; undefined where it isn't one, by a single character or a swap even. Nothing is repaired. */
export function taskCodeFrom(text: string): string | undefined {
	const code = text.trim().toUpperCase();
	if (code.length !== TASK_CODE_LENGTH || !LETTERS.includes(code[0]!) || !/\d/.test(code)) return undefined;
	for (const character of code) if (!ALPHABET.includes(character)) return undefined;
	return weightedSum(code) % ALPHABET.length === 0 ? code : undefined;
}

function weightedSum(code: string): number {
	let sum = 0;
	for (let i = 0; i < code.length; i++) sum += WEIGHTS[i]! * ALPHABET.indexOf(code[i]!);
	return sum;
}
