import { escaped as e } from "../../charts/svg.js";

export const number = (text: string): string => `<td>${e(text)}</td>`;

export const words = (text: string): string => `<td class="text">${e(text)}</td>`;

export const rowName = (text: string, more = ""): string => `<th scope="row">${e(text)}${more}</th>`;

export function table(headings: readonly string[], rows: readonly string[], kind = ""): string {
	const head = headings.map((heading) => `<th scope="col">${e(heading)}</th>`).join("");
	return `<div class="scroll"><table class="${kind}"><thead><tr>${head}</tr></thead><tbody>${rows.map((row) => `<tr>${row}</tr>`).join("")}</tbody></table></div>`;
}
