import { z } from "zod";

// Kinds of field that several subjects share, each with its unit and range in one place.

/** What people call a thing by: `JAR-017`. */
export const code = z.string().trim().min(1).max(64);

/** Whatever is asked for by its code in the address. */
export const byCode = z.strictObject({ code });

/** The code of something that is put on file now; the import takes the same. */
export const newCode = z
	.string()
	.regex(
		/^[\p{L}\p{N}][\p{L}\p{M}\p{N}._/-]{0,39}$/u,
		"must be 1 to 40 letters, digits or . _ / -, beginning with a letter or digit",
	);

/** The same of what other codes are made from: without a stroke. */
export const newStem = z
	.string()
	.regex(
		/^[\p{L}\p{N}][\p{L}\p{M}\p{N}._-]{0,39}$/u,
		"must be 1 to 40 letters, digits or . _ -, beginning with a letter or digit",
	);

/** An instant as it comes in: ISO 8601 with an offset, or Z. */
export const instant = z.iso
	.datetime({ offset: true })
	.transform((text) => Date.parse(text))
	.refine((atMs) => atMs >= 0, { error: "must be 1970 or later" });

/** An instant as it goes out: ISO 8601 in UTC. */
export const utc = z.iso.datetime();

/** @returns `2026-03-01T06:30:00.000Z` */
export function utcOf(atMs: number): string {
	return new Date(atMs).toISOString();
}

/** @returns the same of an instant that may be absent */
export function utcOrNull(atMs: number | null): string | null {
	return atMs === null ? null : utcOf(atMs);
}

/** yes or no in an address */
export const yesOrNo = z.enum(["true", "false"]).transform((text) => text === "true");

/** A number in an address. */
export function numberBetween(smallest: number, largest: number): z.ZodType<number, unknown> {
	return z.coerce.number().min(smallest).max(largest);
}

/** @returns the last three digits of a phone number: enough to tell two phones apart, too little to call one */
export function maskedPhone(phone: string | null): string | null {
	return phone === null ? null : `…${phone.slice(-3)}`;
}

/** @returns the first letter and the domain of an e-mail address */
export function maskedEmail(email: string | null): string | null {
	return email === null ? null : email.replace(/^(.).*@/u, "$1…@");
}
