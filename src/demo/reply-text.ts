import type { Randomness } from "../time/randomness.js";
import type { Habits } from "./people.js";

/** What an answer is about. */
export interface AnsweredTask {
	readonly code: string;
	readonly asked: { readonly kind: "deed"; readonly word: string } | { readonly kind: "strength" | "free chlorine" | "figure" };
}

/** @returns the text as somebody of that habit types it, e.g. "K7M4X 2.5", "k7m4x 2,5" or "2.5" */
export function replyText(style: Habits["style"], { code, asked }: AnsweredTask, reading: string | null): string {
	const said = asked.kind === "deed" ? asked.word : (reading ?? "");
	switch (style) {
		case "as asked":
			return `${code} ${said}`;
		case "lower case, decimal comma":
			return `${code} ${said}`.toLowerCase().replace(".", ",");
		case "value alone":
			return said;
	}
}

/** @returns a text that can't be taken for an answer: half a code, a code and nothing else, a number in words */
export function garbledText(draws: Randomness, code: string, reading: string | null): string {
	return draws.pick([`${code.slice(0, -1)} ${reading ?? ""}`.trim(), `${code} ?`, "tatu", "??"]);
}
