import { createHash } from "node:crypto";
import { InputError } from "../errors/errors.js";

/** What a change was made of: the tag of what was read, or whatever there is now. */
export type ReadVersion = string | "any";

/** @returns a tag of what somebody read; the same content has the same tag */
export function tagOf(content: unknown): string {
	return createHash("sha256").update(JSON.stringify(content)).digest("base64url").slice(0, 22);
}

/** @throws InputError `conflict` (412) where what was read has changed since */
export function assertSame(read: ReadVersion, now: string, what: string): void {
	if (read !== "any" && read !== now)
		throw new InputError(
			"conflict",
			`${what} has been changed since it was read; read it again and make the change in that. Nothing was changed.`,
			{
				status: 412,
				problems: [{ at: "If-Match", message: "isn't the ETag of what holds now" }],
			},
		);
}
