import { hash } from "node:crypto";

/**
 * What of an entry its digest stands for, in this order. Anybody can make it anew: the text is the JSON list of these values as RFC 8785
 * writes it, `detail` as the text in which it is kept.
 */
export const DIGESTED = [
	"id",
	"at_ms",
	"actor",
	"action",
	"subject_kind",
	"subject_id",
	"area_id",
	"detail",
	"because",
	"origin",
] as const;

/** A value that a list for a digest may hold; numbers are whole. */
export type Canonical = string | number | null | readonly Canonical[];

/**
 * @param list texts without half characters, whole numbers up to 2^53, lists of such
 * @returns the list as RFC 8785 writes it: for these kinds of value it takes over what JSON.stringify writes (RFC 8785, 3.2.2)
 */
export function canonicalText(list: readonly Canonical[]): string {
	return JSON.stringify(list);
}

/** @returns SHA-256 of a text's UTF-8 as 64 hexadecimal digits. Source: FIPS 180-4 */
export function sha256(text: string): string {
	return hash("sha256", text, "hex");
}

/** @returns an expression for an entry's canonical text, made by the database: that is faster than to hand out every column */
export function canonicalTextSql(kind: "sqlite" | "postgres"): string {
	if (kind === "postgres") {
		const parts = DIGESTED.map((column) => (column === "at_ms" ? "at_ms::text" : `COALESCE(to_json(${column})::text, 'null')`));
		return `'[' || ${parts.join(" || ',' || ")} || ']'`;
	}
	// SQLite keeps what it is given in any column: what isn't of the right kind must give another text, not an error.
	const parts = DIGESTED.map((column) =>
		column === "at_ms" ? "CASE typeof(at_ms) WHEN 'integer' THEN at_ms ELSE quote(at_ms) END" : `CAST(${column} AS TEXT)`,
	);
	return `json_array(${parts.join(", ")})`;
}
