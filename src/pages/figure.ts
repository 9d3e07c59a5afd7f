import { type Child, Html, html } from "./html.js";

/**
 * A picture that moves sideways by itself where it would otherwise be drawn so small that nobody reads its letters; it grows with them.
 * @param svg made by a chart of ours
 * @param name read out where it is reached by keys
 */
export function figure(svg: string, name: string, ...captions: readonly Child[]): Html {
	const said = captions.filter((one) => one);
	return html`<figure><div class="drawing" role="group" tabindex="0" aria-label="${name}">${new Html(svg)}</div>${said.length > 0 && html`<figcaption>${said.map((one) => html`<span class="caption">${one}</span>`)}</figcaption>`}</figure>`;
}
