import { createHash, randomBytes, randomInt } from "node:crypto";

// Secrets that are given out once. They come from the system's generator and never from the one that a run can be repeated by.

/** @returns 256 random bits, 43 characters of base64url. Source: OWASP ASVS 5.0.0 (2025), 7.2.3 and 11.5.1 */
export function newSecret(): string {
	return randomBytes(32).toString("base64url");
}

/** @returns what is kept of a secret that nobody can guess */
export function hashOf(secret: string): string {
	return createHash("sha256").update(secret).digest("base64url");
}

/** @returns so many random digits, each as likely as any other */
export function newDigits(count: number): string {
	return Array.from({ length: count }, () => String(randomInt(10))).join("");
}

/** Without 0, O, 1, I and L, which people take for each other. */
const LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ";

/** @returns so many random letters and digits that can be told apart on paper, in groups of five */
export function newLetters(count: number): string {
	const letters = Array.from({ length: count }, () => LETTERS[randomInt(LETTERS.length)]).join("");
	return letters.replace(/(.{5})(?=.)/g, "$1-");
}
