/** What a template may name in braces: `{to}` stands for the number with its plus, `{toDigits}` without. */
export const PLACEHOLDERS = ["to", "toDigits", "text", "id", "key", "encoding", "segments", "language"] as const;

const NAMED = /\{([A-Za-z][A-Za-z0-9]*)\}/g;

/** @returns the names that stand in braces in a template, each as often as it stands there */
export function namedIn(template: string): string[] {
	return [...template.matchAll(NAMED)].map(([, name]) => name as string);
}

/**
 * Fills a template.
 * @param escaped what the place where it goes needs: none for a JSON text, which is escaped as a whole
 * @returns the text; a name that has no value stays as it stands
 */
export function filled(
	template: string,
	values: Readonly<Record<string, string>>,
	escaped: (value: string) => string = (value) => value,
): string {
	return template.replace(NAMED, (whole, name: string) => (Object.hasOwn(values, name) ? escaped(values[name]!) : whole));
}
