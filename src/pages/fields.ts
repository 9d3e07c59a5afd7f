import { type Child, type Html, html } from "./html.js";

/** What is wrong with fields of a form, by their names. */
export type Faults = ReadonlyMap<string, Child>;

export const NO_FAULTS: Faults = new Map();

export interface Field {
	readonly name: string;
	readonly label: string;
	readonly value?: string | null | undefined;
	readonly type?: "text" | "date" | "time" | undefined;
	/** What it is written in, after it. */
	readonly isNumber?: true | undefined;
	readonly isNeeded?: true | undefined;
	readonly hint?: string | undefined;
}

/** A field with its name; what is wrong with it stands beside it and is read out with it. Source: WCAG 2.2 (W3C 2023), 3.3.1 and 3.3.2 */
export function field({ name, label, value, type = "text", isNumber, isNeeded, hint }: Field, faults: Faults): Html {
	const fault = faults.get(name);
	return html`<p class="field"><label for="${name}">${label}</label>${beside(name, hint, fault)}<input type="${type}" id="${name}" name="${name}" value="${value ?? ""}"${isNumber && html` inputmode="decimal" dir="ltr" maxlength="20"`}${type === "text" && !isNumber && html` maxlength="500"`}${isNeeded && html` required`}${spokenOf(name, hint, fault)}></p>`;
}

/** Some lines of words. */
export function lines({ name, label, value, isNeeded, hint }: Field, faults: Faults): Html {
	const fault = faults.get(name);
	return html`<p class="field"><label for="${name}">${label}</label>${beside(name, hint, fault)}<textarea id="${name}" name="${name}" rows="3" maxlength="500"${isNeeded && html` required`}${spokenOf(name, hint, fault)}>${value ?? ""}</textarea></p>`;
}

/** One of few, all of them seen at once. */
export function oneOf(
	name: string,
	all: readonly { readonly value: string; readonly words: string; readonly more?: Child }[],
	chosen: string,
): Html {
	return html`${all.map(
		({ value, words, more }) =>
			html`<label class="choice"><input type="radio" name="${name}" value="${value}"${value === chosen && html` checked`}>${words}</label>${more && html`<div class="of-choice">${more}</div>`}`,
	)}`;
}

/** Beside a group of fields that has no single one to stand at. */
export function faultOf(name: string, faults: Faults): Child {
	const fault = faults.get(name);
	return fault && html`<span class="wrong" id="${name}-wrong">${fault}</span>`;
}

function beside(name: string, hint: string | undefined, fault: Child): Child {
	return html`${hint && html`<span class="hint" id="${name}-hint">${hint}</span>`}${fault && html`<span class="wrong" id="${name}-wrong">${fault}</span>`}`;
}

function spokenOf(name: string, hint: string | undefined, fault: Child): Child {
	const by = [hint && `${name}-hint`, fault && `${name}-wrong`].filter((id) => id).join(" ");
	return html`${by && html` aria-describedby="${by}"`}${fault && html` aria-invalid="true"`}`;
}

/** @returns a number as people write it, with a point or a comma; undefined where the field is empty, NaN where it holds none */
export function numberIn(form: URLSearchParams, name: string): number | undefined {
	const text = (form.get(name) ?? "").trim();
	if (text === "") return undefined;
	return /^[+-]?(\d+|\d*[.,]\d+)$/.test(text) ? Number(text.replace(",", ".")) : Number.NaN;
}
