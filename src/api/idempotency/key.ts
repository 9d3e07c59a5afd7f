import { createHash } from "node:crypto";
import { EdgeRefusal } from "../edge/problem.js";

const RIGHT = 'must be one text of 1 to 255 characters, in quotes: "8e03978e-40d5-43dd-bc93-6894a57f9324"';

/**
 * The key that a request bears.
 * @param field the header field; a text without its quotes is taken too, as many clients send it
 * @returns none where there is no field
 * @throws EdgeRefusal 400 where the field isn't a key
 *
 * Source: IETF draft-ietf-httpapi-idempotency-key-header-07 (2025), section 2.1; RFC 9651 (2024), section 3.3.3, for the quoted form
 */
export function keyOf(field: string | readonly string[] | undefined): string | undefined {
	if (field === undefined) return undefined;
	const text = typeof field === "string" ? field.trim() : "";
	const quoted = /^"((?:[\x20-\x21\x23-\x5b\x5d-\x7e]|\\["\\])*)"$/.exec(text)?.[1]?.replace(/\\(.)/g, "$1");
	const key = quoted ?? (/^[\x21\x23-\x2b\x2d-\x7e]+$/.test(text) ? text : "");
	if (key.length >= 1 && key.length <= 255) return key;
	throw new EdgeRefusal(
		400,
		"malformed",
		`Idempotency-Key ${RIGHT}.`,
		{},
		{ errors: [{ parameter: "Idempotency-Key", detail: RIGHT }] },
	);
}

/** @returns SHA-256 over the parts, each by itself */
export function digestOf(...parts: readonly (string | Buffer)[]): string {
	const hash = createHash("sha256");
	for (const part of parts) hash.update(`${part.length}:`).update(part);
	return hash.digest("base64url");
}

/** @returns JSON in which the order of an object's members and white space make no difference */
export function canonicalJson(value: unknown): string {
	return (
		JSON.stringify(value, (_, inner: unknown) =>
			typeof inner === "object" && inner !== null && !Array.isArray(inner)
				? Object.fromEntries(Object.entries(inner).sort(([a], [b]) => (a < b ? -1 : 1)))
				: inner,
		) ?? ""
	);
}
