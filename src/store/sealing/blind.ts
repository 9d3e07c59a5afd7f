/** What is searched for in the same way: phone numbers and e-mail addresses are both addresses that somebody writes from. */
export type BlindKind = "address" | "name" | "endpoint";

/**
 * A parameter of a statement that searches a sealed column: it goes to the database as the list of blind indexes of the value, one a key.
 * `${blindOfColumn("p.email")} ${among(kind, "$1")}` with `[new Blind("address", text)]`.
 */
export class Blind {
	constructor(
		readonly kind: BlindKind,
		readonly text: string,
	) {}
}

/** @returns the spelling that stands for all spellings of a value */
export function normalised(kind: BlindKind, text: string): string {
	if (kind === "endpoint") return text;
	const plain = text.normalize("NFKC").trim().replace(/\s+/gu, " ").toLowerCase();
	return kind === "address" ? plain : plain.normalize("NFD").replace(/\p{M}+/gu, "");
}
