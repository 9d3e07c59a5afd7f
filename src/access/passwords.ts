import { hash, verify } from "@node-rs/argon2";
import { InputError } from "../errors/errors.js";

/** What a password costs to try, by argon2id, which the library takes where nothing else is said. Source: OWASP Password Storage Cheat Sheet: argon2id with 19 MiB, 2 iterations, 1 lane at the least */
const COST = { memoryCost: 19_456, timeCost: 2, parallelism: 1 } as const;
const COSTS_NOW = "$argon2id$v=19$m=19456,t=2,p=1$";

/** Hashed at once: more would only take memory and the processor from everything else. */
const AT_ONCE = 2;

/** Source: NIST SP 800-63B-4 (2025), section 3.1.1.2: 15 characters where the password is the only factor; 64 must be taken */
export const PASSWORD_LENGTH = { least: 15, most: 256 } as const;

/** Words that anybody would try here first, beside the login and the person's own code. */
export const WORDS_OF_THE_PROGRAMME = [
	"jarwatch",
	"chlorine",
	"bleach",
	"water",
	"volunteer",
	"supervisor",
	"health office",
] as const;

/** A score below this is guessed in under 10^8 tries. Source: Wheeler 2016, "zxcvbn: Low-Budget Password Strength Estimation", USENIX Security */
const WEAKEST = 3;
/** So many characters, spaces not counted, must stand beside words that are known here. */
const BESIDE_KNOWN = 8;
/** What is longer is strong enough by what stands before. */
const LOOKED_AT = 100;

let busy = 0;
const waiting: (() => void)[] = [];

/** @returns the PHC string of a password or code, made on threads of their own */
export function hashed(secret: string): Promise<string> {
	return inTurn(() => hash(secret, COST));
}

/**
 * @param kept PHC string; none: nobody is known by this name, and the same time is spent
 * @returns whether the secret is the one that was hashed, to the letter
 */
export async function matches(kept: string | null | undefined, secret: string): Promise<boolean> {
	const isRight = await inTurn(async () => verify(kept ?? (await nobodys()), secret).catch(() => false));
	return isRight && typeof kept === "string";
}

/** Whether it was hashed at less cost than a new one would be. */
export function isOutdated(kept: string): boolean {
	return !kept.startsWith(COSTS_NOW);
}

/**
 * Refuses a password that is too short, common, or made of what anybody knows; any characters serve, and none must be in it.
 * @param at where it stands in what came in
 * @param known words about the holder of the account
 * @throws InputError `invalid-input`
 *
 * Source: NIST SP 800-63B-4 (2025), section 3.1.1.2; OWASP ASVS 5.0.0 (2025), 6.2.1, 6.2.4, 6.2.5, 6.2.9 and 6.2.11
 */
export async function assertGoodPassword(password: string, at: string, known: readonly string[]): Promise<void> {
	const { least, most } = PASSWORD_LENGTH;
	const length = [...password].length;
	const refuse = (message: string) => {
		throw new InputError("invalid-input", `The password ${message}.`, { problems: [{ at, message }] });
	};
	if (length < least) refuse(`must have at least ${least} characters; a few words are easy to keep in mind`);
	if (length > most) refuse(`must have at most ${most} characters`);
	const words = [...WORDS_OF_THE_PROGRAMME, ...known];
	const estimate = await estimator();
	if (lettersBeside(words, password) < BESIDE_KNOWN || estimate(password.slice(0, LOOKED_AT), words) < WEAKEST)
		refuse("is one that others would soon guess: it is common, or made of common words, rows of keys, or names known here");
}

function lettersBeside(words: readonly string[], password: string): number {
	let rest = password.toLowerCase();
	for (const word of words) rest = rest.replaceAll(word.toLowerCase(), "");
	return [...rest.replace(/\s/gu, "")].length;
}

let nobody: Promise<string> | undefined;
function nobodys(): Promise<string> {
	nobody ??= hash("nobody's", COST);
	return nobody;
}

/** Forty thousand common passwords take a tenth of a second to load: only where somebody chooses one. */
let loaded: Promise<(password: string, known: string[]) => number> | undefined;
function estimator(): Promise<(password: string, known: string[]) => number> {
	loaded ??= (async () => {
		const [{ ZxcvbnFactory }, { adjacencyGraphs, dictionary }] = await Promise.all([
			import("@zxcvbn-ts/core"),
			import("@zxcvbn-ts/language-common"),
		]);
		const guessing = new ZxcvbnFactory({ dictionary, graphs: adjacencyGraphs });
		return (password: string, known: string[]) => guessing.check(password, known).score;
	})();
	return loaded;
}

async function inTurn<T>(work: () => Promise<T>): Promise<T> {
	if (busy >= AT_ONCE) await new Promise<void>((resolve) => void waiting.push(resolve));
	else busy++;
	try {
		return await work();
	} finally {
		const next = waiting.shift();
		if (next) next();
		else busy--;
	}
}
