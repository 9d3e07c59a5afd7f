import { foldedWord } from "./answer-words.js";
import { taskCodeFrom } from "./task-code.js";

/** One piece of an answer. */
export type Token =
	| { readonly kind: "code"; readonly code: string }
	| { readonly kind: "number"; readonly digits: string }
	| { readonly kind: "word"; readonly word: string }
	/** A letter where a digit should be, something like a code that isn't one, or a number that may be read in two ways. */
	| { readonly kind: "doubtful"; readonly why: "letter-for-digit" | "bad-code" | "number"; readonly word: string }
	| { readonly kind: "sign"; readonly sign: string };

/**
 * Cuts a text into codes, numbers, words and signs; digits of every script become ASCII ones.
 * @param text at most some thousand characters; time is linear in its length
 */
export function tokensOf(text: string): Token[] {
	const plain = withAsciiDigits(
		text
			.replace(/\p{Cf}/gu, "")
			.replace(/\p{Cc}/gu, " ")
			.normalize("NFKC"),
	);
	const tokens: Token[] = [];
	for (const [piece] of plain.matchAll(PIECE)) {
		const isRun = /^[\p{L}\p{M}\d.,]/u.test(piece) && piece !== "." && piece !== ",";
		if (isRun) tokens.push(...tokensOfRun(piece));
		else tokens.push({ kind: "sign", sign: piece });
	}
	return tokens;
}

/** Letters and digits, with apostrophes inside words and points or commas before digits; or any other single sign. */
const PIECE = /(?:[\p{L}\p{M}\d]|(?<=\p{L})['’](?=\p{L})|[.,](?=\d))+|[^\s]/gu;

const NUMBER = /^\d{1,4}(?:[.,]\d{1,3})?$/;
/** "1,500" is one and a half in one country and fifteen hundred in another. */
const THOUSANDS = /^[1-9]\d{0,2}[.,]\d{3}$/;

function tokensOfRun(run: string): Token[] {
	const code = taskCodeFrom(run);
	if (code) return [{ kind: "code", code }];
	if (/^[\d.,]+$/.test(run)) return [numberFrom(run)];
	// What follows the digits must be a unit, which is decided with the other words; "1O" and "5l" are doubtful, never repaired.
	const withUnit = /^(\d[\d.,]*)([\p{L}\p{M}]+)$/u.exec(run);
	if (withUnit && !/^[oilsbz]+$/i.test(withUnit[2]!)) return [numberFrom(withUnit[1]!), ...wordFrom(withUnit[2]!)];
	if (LOOKS_LIKE_DIGITS.test(run)) return [{ kind: "doubtful", why: "letter-for-digit", word: foldedWord(run) }];
	const glued = codeAndNumber(run);
	if (glued) return glued;
	if (/\d/.test(run)) return [{ kind: "doubtful", why: "bad-code", word: foldedWord(run) }];
	return wordFrom(run);
}

function wordFrom(run: string): Token[] {
	const word = foldedWord(run);
	return word ? [{ kind: "word", word }] : [];
}

const LOOKS_LIKE_DIGITS = /^(?:[oil]|(?=.*\d)[\doilsbz]+(?:[.,][\doilsbz]+)?|[oilsbz]+[.,][\doilsbz]+)$/i;

function numberFrom(text: string): Token {
	if (!NUMBER.test(text) || THOUSANDS.test(text)) return { kind: "doubtful", why: "number", word: text };
	return { kind: "number", digits: text.replace(",", ".") };
}

/**
 * "K7M4X3": the code and the value without a space between them. Only after a letter: a code that ends in a digit may just as
 * well have had its last key pressed twice. "K7M4X.3" may be 3 or 0.3.
 */
function codeAndNumber(run: string): Token[] | undefined {
	const code = taskCodeFrom(run.slice(0, 5));
	if (!code || !/\D$/.test(code)) return undefined;
	const rest = run.slice(5);
	if (/^[.,]/.test(rest))
		return [
			{ kind: "code", code },
			{ kind: "doubtful", why: "number", word: rest },
		];
	return NUMBER.test(rest) ? [{ kind: "code", code }, numberFrom(rest)] : undefined;
}

function withAsciiDigits(text: string): string {
	return text.replace(/(?!\d)\p{Nd}/gu, (digit) => String(digitValue(digit.codePointAt(0)!))).replace(/[\u066b\u060c]/g, ",");
}

/** Decimal digits of every script come in runs of ten in order, which Unicode promises to keep (Unicode Standard, section 4.6). */
function digitValue(codePoint: number): number {
	let start = codePoint;
	while (/\p{Nd}/u.test(String.fromCodePoint(start - 1))) start--;
	return (codePoint - start) % 10;
}
