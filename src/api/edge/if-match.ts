import { InputError } from "../../errors/errors.js";

/** What a route that changes something says of its If-Match. */
export const IF_MATCH = {
	"If-Match": "ETag of what the change was made of, or *; without it the change is refused with 428",
} as const;

/** What a route says of its If-Match that does without. */
export const IF_MATCH_OR_NONE = {
	"If-Match": "ETag of what the change was made of; left out: of whatever holds now",
} as const;

/** @returns the tag that a change was made of, or whatever holds now */
export function tagOrAny(ifMatch: string | undefined): string {
	return ifMatch?.trim() ? tagIn(ifMatch) : "any";
}

/**
 * The tag that a change was made of.
 * @throws InputError `conflict` (428) where there is none
 * Source: RFC 9110 (2022), sections 8.8.3 and 13.1.1 (strong comparison); RFC 6585 (2012), section 3
 */
export function tagIn(ifMatch: string | undefined): string {
	const text = ifMatch?.trim();
	if (!text)
		throw new InputError("conflict", "Send If-Match with the ETag of what the change was made of.", {
			status: 428,
			problems: [{ at: "If-Match", message: "is needed" }],
		});
	if (text === "*") return "any";
	// What isn't a strong tag of ours matches none.
	const tag = /^"([\w-]{1,64})"$/.exec(text)?.[1] ?? "none";
	return tag === "any" ? "none" : tag;
}
