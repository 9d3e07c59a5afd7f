// What XML 1.0 lets no document hold, not even escaped.
const FORBIDDEN = /[^\t\n\r\u{20}-\u{D7FF}\u{E000}-\u{FFFD}\u{10000}-\u{10FFFF}]/gu;

/** @returns text that is safe between tags and in attributes */
export function escaped(text: string): string {
	return text.replace(FORBIDDEN, "").replace(/[&<>"']/g, (sign) => `&#${sign.charCodeAt(0)};`);
}

/** @returns an element; attributes with no value are left out */
export function element(
	name: string,
	attributes: Readonly<Record<string, string | number | null | undefined>>,
	...inside: readonly string[]
): string {
	const written = Object.entries(attributes)
		.filter((entry): entry is [string, string | number] => entry[1] !== undefined && entry[1] !== null)
		.map(([key, value]) => ` ${key}="${escaped(String(typeof value === "number" ? rounded(value) : value))}"`)
		.join("");
	return inside.length === 0 ? `<${name}${written}/>` : `<${name}${written}>${inside.join("")}</${name}>`;
}

/** @returns a text element; what is written from the right keeps its order in a picture whose places count from the left. Source: Unicode UAX #9, section 2.4 */
export function label(x: number, y: number, text: string, attributes: Readonly<Record<string, string | number>> = {}): string {
	return element("text", { x, y, ...attributes }, escaped(FROM_RIGHT.test(text) ? `\u2068${text}\u2069` : text));
}

const FROM_RIGHT = /[\p{Script=Arabic}\p{Script=Hebrew}]/u;

/** @returns a length to a tenth: finer isn't seen */
export function rounded(length: number): number {
	return Math.round(length * 10) / 10;
}
