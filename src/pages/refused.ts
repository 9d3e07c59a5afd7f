import { InputError } from "../errors/errors.js";
import { type Child, type Html, html } from "./html.js";
import { toldAgain } from "./said.js";
import type { Words } from "./words.js";

/** Why a form wasn't taken, and with which status its page is shown again. */
export interface Refused {
	/** In the visitor's language; sentences one by one where a service said them, in English. */
	readonly why: string | readonly string[];
	readonly status: number;
}

/** @returns what the work did; why it did nothing, where whoever asked can mend it */
export async function orRefused<T>(work: () => Promise<T>): Promise<{ readonly done: T } | { readonly refused: Refused }> {
	try {
		return { done: await work() };
	} catch (error) {
		if (!(error instanceof InputError) || error.status === 404) throw error;
		return { refused: refusedBy(error) };
	}
}

/** @returns what a service said when it refused something */
export function refusedBy({ message, problems, status }: InputError): Refused {
	const more = problems.map((problem) => problem.message).filter((text) => !message.includes(text));
	return { why: [message, ...more.slice(0, 10)], status };
}

/** Says above a page what wasn't done and why; a change by somebody else meanwhile is told as such. */
export function refusal(refused: Refused | undefined, words: Words): Html | undefined {
	if (!refused) return undefined;
	const isConflict = refused.status === 409 || refused.status === 412;
	return html`<div class="stop" role="alert"><p><strong>${words(isConflict ? "lead.changedMeanwhile" : "lead.notDone")}</strong></p><p>${whySaid(refused, words)}</p></div>`;
}

function whySaid({ why }: Refused, words: Words): Child {
	return typeof why === "string" ? why : why.map((sentence, i) => html`${i > 0 && " "}${toldAgain(sentence, words)}`);
}

/** Says that something was done, where the address says so. */
export function told(text: string | undefined): Html | undefined {
	return text === undefined ? undefined : html`<p class="told" role="status">${text}</p>`;
}
