import { escaped } from "../charts/svg.js";

/** Markup that is safe as it stands: made by `html`, or by a chart of ours. */
export class Html {
	constructor(readonly text: string) {}
}

/** What may stand in markup: text is escaped, markup stays, nothing is left out. */
export type Child = Html | string | number | null | undefined | false | readonly Child[];

/**
 * Markup in which every value is escaped that isn't markup itself. Values stand between tags or in quoted attributes, nowhere else.
 */
export function html(parts: TemplateStringsArray, ...values: readonly Child[]): Html {
	let text = parts[0] as string;
	for (const [i, value] of values.entries()) text += written(value) + parts[i + 1];
	return new Html(text);
}

/** @returns attributes without a value, such as `open`, where the condition holds */
export function flag(name: "open" | "required" | "checked" | "selected" | "hidden" | "autofocus", holds: boolean): Html {
	return new Html(holds ? ` ${name}` : "");
}

function written(value: Child): string {
	if (value === null || value === undefined || value === false) return "";
	if (value instanceof Html) return value.text;
	if (typeof value === "number") return String(value);
	if (typeof value === "string") return escaped(value);
	return value.map(written).join("");
}
