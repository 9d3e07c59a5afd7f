/** @returns text that is safe between tags and in attributes */
export function escaped(text: string): string {
	return text.replace(/[&<>"']/g, (sign) => `&#${sign.charCodeAt(0)};`);
}

/** @returns an element; attributes with no value are left out */
export function element(
	name: string,
	attributes: Readonly<Record<string, string | number | undefined>>,
	...inside: readonly string[]
): string {
	const given = Object.entries(attributes).filter((entry): entry is [string, string | number] => entry[1] !== undefined);
	const written = given.map(([key, value]) => ` ${key}="${escaped(typeof value === "number" ? short(value) : value)}"`).join("");
	return inside.length === 0 ? `<${name}${written}/>` : `<${name}${written}>${inside.join("")}</${name}>`;
}

/** @returns a text element */
export function label(x: number, y: number, text: string, attributes: Readonly<Record<string, string | number>> = {}): string {
	return element("text", { x, y, ...attributes }, escaped(text));
}

function short(value: number): string {
	return String(Math.round(value * 100) / 100);
}
