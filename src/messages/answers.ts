import { type Token, tokensOf } from "./answer-tokens.js";
import { LONGEST_PHRASE, means, type Said, saidBy } from "./answer-words.js";
import type { WordKind } from "./catalogues.js";

/** Why an answer isn't taken. */
export type Unclear =
	| "empty"
	| "too-long"
	| "words"
	| "code-alone"
	| "two-codes"
	| "two-numbers"
	| "less-than"
	| "contradiction"
	| "letter-for-digit"
	| "bad-code"
	| "number";

/** What a person texted, understood or not. */
export type ParsedAnswer =
	| {
			readonly kind: "reading";
			readonly code?: string;
			/** In the unit of the kit, as typed; with `isOpenTop`, this or more. */
			readonly value: number;
			readonly isOpenTop: boolean;
			/** "3", "1.5", or ">5" where the colour was off the top of the scale. */
			readonly reading: string;
			readonly raw: string;
	  }
	| { readonly kind: Said; readonly code?: string }
	| { readonly kind: "unclear"; readonly why: Unclear };

const LONGEST_ANSWER = 1000;
const MOST_TOKENS = 60;

/**
 * Reads an answer in any of the program's languages: a task code and a value, a value alone, or a word for done, cannot, later, help, stop.
 * It takes decimal commas, digits of every script, a unit of mg/L or none, and "5+", ">5" or "more than 5" for the top of a scale.
 * A code or a number is never mended: what may be read in two ways is unclear and is asked again, because a reading that was
 * guessed too high would have somebody dose too little. Words may be one letter wrong.
 * @param body as the channel received it, of any length and content
 */
export function parsedAnswer(body: string): ParsedAnswer {
	const tokens = tokensOf(body.slice(0, LONGEST_ANSWER));
	// Whoever wants no more messages gets none, whatever else stands there.
	if (startsWithStop(tokens)) return { kind: "stop" };
	if (tokens.length > MOST_TOKENS || body.slice(LONGEST_ANSWER).trim() !== "") return unclear("too-long");
	const sentence = readSentence(tokens);
	return typeof sentence === "string" ? unclear(sentence) : meaningOf(sentence, body.trim());
}

const unclear = (why: Unclear): ParsedAnswer => ({ kind: "unclear", why });

function startsWithStop(tokens: readonly Token[]): boolean {
	const first = tokens.find((token) => token.kind === "word");
	return first?.kind === "word" && means(first.word, "stop");
}

/** What stands in an answer once units, courtesies and signs are taken away. */
interface Sentence {
	readonly codes: ReadonlySet<string>;
	readonly numbers: ReadonlySet<string>;
	readonly isOpenTop: boolean;
	readonly said: ReadonlySet<Said>;
	/** Words that mean nothing known. */
	readonly rest: readonly string[];
	/** A single O, I or L stands there: a 0 or 1, or a letter of a sentence. */
	readonly hasLoneLetter: boolean;
}

function readSentence(tokens: readonly Token[]): Sentence | Unclear {
	const codes = new Set<string>();
	const numbers = new Set<string>();
	const said = new Set<Said>();
	const rest: string[] = [];
	let isOpenTop = false;
	let hasLoneLetter = false;
	for (let at = 0; at < tokens.length; ) {
		const token = tokens[at]!;
		const phrase = phraseAt(tokens, at);
		if (phrase) {
			if (phrase.kind === "moreThan" || phrase.kind === "orMore") {
				const beside = tokens[phrase.kind === "moreThan" ? at + phrase.length : at - 1];
				if (beside?.kind === "number") isOpenTop = true;
				else rest.push(phrase.kind);
			} else if (isSaid(phrase.kind)) said.add(phrase.kind);
			at += phrase.length;
			continue;
		}
		if (token.kind === "code") codes.add(token.code);
		if (token.kind === "number") numbers.add(String(Number(token.digits)));
		if (token.kind === "word") rest.push(token.word);
		if (token.kind === "doubtful") {
			if (token.why !== "letter-for-digit" || token.word.length > 1) return token.why;
			hasLoneLetter = true;
		}
		if (token.kind === "sign") {
			const problem = problemOfSign(tokens, at);
			if (problem) return problem;
			isOpenTop ||= opensTop(tokens, at);
			if (token.sign === "?" && tokens.length === 1) said.add("help");
		}
		at++;
	}
	return { codes, numbers, isOpenTop, said, rest, hasLoneLetter };
}

interface Phrase {
	readonly kind: WordKind;
	readonly length: number;
}

const PHRASE_KINDS: readonly WordKind[] = ["stop", "cannot", "later", "help", "done", "moreThan", "orMore", "units", "fillers"];

/** The longest phrase of the catalogues that begins here; a unit takes "/l" or "l" with it. */
function phraseAt(tokens: readonly Token[], at: number): Phrase | undefined {
	for (let length = LONGEST_PHRASE; length > 0; length--) {
		const words = tokens.slice(at, at + length).map((token) => ("word" in token ? token.word : undefined));
		if (words.length < length || words.includes(undefined)) continue;
		const phrase = words.join(" ");
		// "plus" is more after a number ("5 plus") and before one ("plus de 5") only with another word.
		const isAfterNumber = tokens[at - 1]?.kind === "number";
		const isAfterReading = isAfterNumber || (isSign(tokens[at - 1], "+") && tokens[at - 2]?.kind === "number");
		const fits = (kind: WordKind) => (kind === "units" ? isAfterReading : kind !== "orMore" || isAfterNumber);
		const kind = PHRASE_KINDS.find((known) => means(phrase, known) && fits(known));
		if (kind) return { kind, length: kind === "units" ? length + perLitreLength(tokens, at + length) : length };
	}
	return undefined;
}

function perLitreLength(tokens: readonly Token[], at: number): number {
	const slash = isSign(tokens[at], "/") ? 1 : 0;
	const litre = tokens[at + slash];
	return litre && "word" in litre && means(litre.word, "perLitre") ? slash + 1 : 0;
}

function isSign(token: Token | undefined, sign: string): boolean {
	return token?.kind === "sign" && token.sign === sign;
}

function isSaid(kind: WordKind): kind is Said {
	return kind === "done" || kind === "cannot" || kind === "later" || kind === "help" || kind === "stop";
}

function problemOfSign(tokens: readonly Token[], at: number): Unclear | undefined {
	const { sign } = tokens[at] as { sign: string };
	const next = tokens[at + 1]?.kind;
	if (/[<≤]/.test(sign)) return "less-than";
	if (/[%‰٪]/.test(sign)) return "number";
	// A dash before a number is a minus unless it stands between the code and the value.
	if (/[-−–]/.test(sign) && next === "number" && tokens[at - 1]?.kind !== "code") return "number";
	// A point or slash that touches nothing on its left was cut from a number ("3 /5", "3 . 5").
	return /[./⁄'’]/.test(sign) && next === "number" && tokens[at - 1]?.kind === "number" ? "two-numbers" : undefined;
}

/** ">5", "> = 5", "≥5" before a number; "5+" after one. */
function opensTop(tokens: readonly Token[], at: number): boolean {
	const { sign } = tokens[at] as { sign: string };
	if (sign === "+") return tokens[at - 1]?.kind === "number";
	if (sign !== ">" && sign !== "≥") return false;
	let next = at + 1;
	while (tokens[next]?.kind === "sign" && /[>=]/.test((tokens[next] as { sign: string }).sign)) next++;
	return tokens[next]?.kind === "number";
}

function meaningOf(sentence: Sentence, raw: string): ParsedAnswer {
	const { codes, numbers, isOpenTop, said, rest, hasLoneLetter } = sentence;
	if (codes.size > 1) return unclear("two-codes");
	if (numbers.size > 1) return unclear("two-numbers");
	const [code] = codes;
	const withCode = code === undefined ? {} : { code };
	const [number] = numbers;
	if (number !== undefined) {
		// A reading says more than "done"; with any other word it may be something else than a reading.
		if ([...said].some((word) => word !== "done")) return unclear("contradiction");
		if (rest.length > 0) return unclear("words");
		if (hasLoneLetter) return unclear("letter-for-digit");
		const reading = isOpenTop ? `>${number}` : number;
		return { kind: "reading", ...withCode, value: Number(number), isOpenTop, reading, raw };
	}
	if (said.has("stop")) return { kind: "stop", ...withCode };
	if (said.size > 1) return unclear("contradiction");
	const [word] = said;
	// "not done yet" isn't done; "I cannot come today" is cannot, and asking for help needs no grammar.
	if (word && (word !== "done" || (rest.length === 0 && !hasLoneLetter))) return { kind: word, ...withCode };
	const nearly = word || hasLoneLetter ? undefined : saidBy(rest.join(" "));
	if (nearly) return { kind: nearly, ...withCode };
	if (rest.length > 0) return unclear("words");
	if (hasLoneLetter) return unclear("letter-for-digit");
	return unclear(code === undefined ? "empty" : "code-alone");
}
