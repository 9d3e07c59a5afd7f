import { isFromRight, TextBook } from "../messages/text-book.js";
import ar from "./instructions/ar.json" with { type: "json" };
import en from "./instructions/en.json" with { type: "json" };
import es from "./instructions/es.json" with { type: "json" };
import fr from "./instructions/fr.json" with { type: "json" };
import pt from "./instructions/pt.json" with { type: "json" };
import sw from "./instructions/sw.json" with { type: "json" };

export type InstructionText = keyof (typeof en)["texts"];

/** What people are told to do, step by step, in every language there is. A new text is a line in each catalogue. */
export const instructionTexts = new TextBook<InstructionText>([en, fr, es, pt, sw, ar]);

/** How a task may be answered, so that a page can ask for just that. */
export interface Asks {
	/** What is read or counted. */
	readonly number?: "colour" | "mgPerL" | "litres" | "minutes" | "volts" | "pieces" | "expiry";
	/** What can be read on the kit, in words: "0, 1, 2, 3, 4, 5+". */
	readonly scale?: string;
	/** What "done" stands for. */
	readonly planned?: number;
	/** Of pieces: "g", "drop", "piece". */
	readonly unit?: string;
	/** One of these is answered by its number. */
	readonly choices?: readonly { readonly value: string; readonly text: InstructionText }[];
	/** Whether "done" alone is an answer. */
	readonly done?: boolean;
}

/** How a person is to be told what to do: names of texts, which the figures of the task fill. */
export interface Guidance {
	readonly why: InstructionText;
	/** In their order, with measured amounts. */
	readonly steps: readonly InstructionText[];
	readonly cautions: readonly InstructionText[];
	/** What to text back. */
	readonly answerWith: InstructionText;
	/** Figures beside those that are kept with the task. */
	readonly also?: Figures;
	readonly asks: Asks;
}

type Figures = Readonly<Record<string, string | number>>;

/** Figures of a task that are sentences: they are kept as they were said when it was opened. */
const SENTENCES = new Set<PropertyKey>(["reason", "reasons", "batteryEvidence", "electrodeEvidence", "saltEvidence"]);

/** Says a text with a task's figures. A figure that an older task lacks is a dash. */
export function instructed(name: InstructionText, figures: Figures, language: string): string {
	const fill = new Proxy(figures, {
		get: (known, key) => {
			const figure = Reflect.get(known, key) as string | number | undefined;
			return SENTENCES.has(key) && typeof figure === "string" ? toldAgain(figure, language) : (figure ?? "–");
		},
	});
	return instructionTexts.text(name, fill, language).text;
}

/** @returns what was said, one thing after another, in a language; as it stands where it isn't known */
function toldAgain(said: string, language: string): string {
	const parts = said.split(BETWEEN);
	const again: string[] = [];
	for (let from = 0; from < parts.length; ) {
		// What holds such a mark itself is longer than what it begins with.
		const until = [...parts.keys()]
			.reverse()
			.find((at) => at >= from && retold(parts.slice(from, at + 1), language) !== undefined);
		if (until === undefined) return said;
		again.push(retold(parts.slice(from, until + 1), language)!);
		from = until + 1;
	}
	return again.join(isFromRight(language) ? "؛ " : BETWEEN);
}

const BETWEEN = "; ";

function retold(parts: readonly string[], language: string): string | undefined {
	return instructionTexts.retold(parts.join(BETWEEN), "said.", language);
}
