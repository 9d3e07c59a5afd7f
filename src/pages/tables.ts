import { type Child, type Html, html } from "./html.js";

/**
 * A table that moves sideways by itself where the screen is narrow, by keys too.
 * @param rows the first cell of each names what the row is about
 */
export function table(caption: string, heads: readonly string[], rows: readonly (readonly Child[])[]): Html {
	return html`<div class="scroll" role="region" tabindex="0" aria-label="${caption}"><table><caption><span>${caption}</span></caption>
<thead><tr>${heads.map((head) => html`<th scope="col">${head}</th>`)}</tr></thead>
<tbody>${rows.map(
		([first, ...others]) => html`<tr><th scope="row">${first}</th>${others.map((cell) => html`<td>${cell}</td>`)}</tr>
`,
	)}</tbody></table></div>`;
}

/** Figures to be seen before anything is read. */
export function tiles(
	figures: readonly { readonly figure: string; readonly words: string; readonly to?: string; readonly isBad?: boolean }[],
): Html {
	return html`<ul class="tiles">${figures.map(({ figure, words, to, isBad }) => {
		const inside = html`<strong>${figure}</strong><span>${words}</span>`;
		return html`<li${isBad && html` class="bad"`}>${to === undefined ? html`<div>${inside}</div>` : html`<a href="${to}">${inside}</a>`}</li>`;
	})}</ul>`;
}

/** One of several to be chosen in a form. */
export interface Choice {
	readonly value: string;
	readonly words: string;
}

/** A list to choose from, with its name. */
export function choices(id: string, name: string, label: string, all: readonly Choice[], chosen?: string | null): Html {
	return html`<p class="field"><label for="${id}">${label}</label><select id="${id}" name="${name}">${all.map(
		({ value, words }) => html`<option value="${value}"${value === chosen && html` selected`}>${words}</option>`,
	)}</select></p>`;
}

/** Facts about one thing, each beside its name. */
export function facts(all: readonly (readonly [name: string, fact: Child])[]): Html {
	return html`<dl>${all.map(([name, fact]) => html`<div><dt>${name}</dt><dd>${fact}</dd></div>`)}</dl>`;
}
