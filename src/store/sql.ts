/** A row as it comes from a statement: property names in camel case. */
export type Row = Record<string, string | number | boolean | null>;

/** @returns the text with `?` for each `$1`, `$2`..., and which parameter, counted from 0, stands at each `?` */
export function unnumbered(statement: string): { text: string; order: number[] } {
	const order: number[] = [];
	const text = statement.replace(/\$(\d+)/g, (_, number: string) => {
		order.push(Number(number) - 1);
		return "?";
	});
	return { text, order };
}

/**
 * The `VALUES` part of a statement that writes many rows at once.
 * @param rows one list of parameters a row, all of one length
 * @returns the text `($1,$2),($3,$4)` and the flat parameters
 */
export function valuesOf(rows: readonly (readonly unknown[])[]): { text: string; parameters: unknown[] } {
	return { text: valuesText(rows.length, rows[0]?.length ?? 0), parameters: rows.flat() };
}

/** Writes come in pages of few sizes: their texts are made once. */
const valuesTexts = new Map<string, string>();

function valuesText(rows: number, width: number): string {
	const key = `${rows}x${width}`;
	let text = valuesTexts.get(key);
	if (text === undefined) {
		text = Array.from({ length: rows }, (_, r) => `(${placeholders(width, r * width + 1)})`).join(",");
		if (valuesTexts.size < 2000) valuesTexts.set(key, text);
	}
	return text;
}

/** `$2,$3,$4` for a list of values that begins at a given parameter number. */
export function placeholders(count: number, from = 1): string {
	return Array.from({ length: count }, (_, i) => `$${from + i}`).join(",");
}

/**
 * What stands behind a column that must be among a list which is one parameter: the text is the same whatever the list's length,
 * so that it is read and planned once.
 * @param parameter `$1`, `$2`...; its value is a list of texts
 */
export function among(kind: "sqlite" | "postgres", parameter: string): string {
	return kind === "postgres" ? `= ANY(${parameter}::text[])` : `IN (SELECT value FROM json_each(${parameter}))`;
}

/** A list of texts that is one parameter, as a table of one column. */
export function listed(kind: "sqlite" | "postgres", parameter: string, column: string): string {
	return kind === "postgres"
		? `(SELECT unnest(${parameter}::text[]) AS ${column})`
		: `(SELECT value AS ${column} FROM json_each(${parameter}))`;
}

/**
 * Ends a subquery of EXISTS that is to be asked for each row by its index. Without it PostgreSQL may read all open tasks into a hash for
 * each page, which it takes for few as long as it hasn't counted them (an OFFSET keeps a subquery as it stands).
 */
export const ONE_BY_ONE = "LIMIT 1 OFFSET 0";
