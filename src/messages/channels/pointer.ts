/**
 * The value to which a JSON Pointer leads.
 * @param pointer such as `/messages/0/id`; a field of a form is `/id`
 * @returns undefined where nothing is there; never what an object has inherited
 * Source: RFC 6901 (2013), sections 3 and 4
 */
export function valueAt(value: unknown, pointer: string): unknown {
	let at = value;
	for (const part of pointer.split("/").slice(1)) {
		const key = part.replaceAll("~1", "/").replaceAll("~0", "~");
		if (typeof at !== "object" || at === null || !Object.hasOwn(at, key)) return undefined;
		at = (at as Record<string, unknown>)[key];
	}
	return at;
}

/** @returns the same as a text: numbers and yes or no as JSON writes them; none for anything else */
export function textAt(value: unknown, pointer: string): string | undefined {
	const found = valueAt(value, pointer);
	return typeof found === "string" ? found : typeof found === "number" || typeof found === "boolean" ? String(found) : undefined;
}
