import { InputError, type Problem } from "../../errors/errors.js";
import { pointerOf } from "./problem.js";

/** Nothing that is asked here comes near. */
const DEEPEST = 20;
const LONGEST_LIST = 1000;

/**
 * Refuses what no field may hold, whatever its schema says: NUL, which PostgreSQL can't keep, and halves of surrogate pairs,
 * which change on their way into UTF-8; and nesting that only an attack needs.
 * @throws InputError `invalid-input` that names each place
 */
export function assertWellFormed(value: unknown, where: "body" | "parameter"): void {
	const problems: Problem[] = [];
	look(value, [], (path, message) => problems.push({ at: where === "body" ? pointerOf(path) : String(path[0] ?? ""), message }));
	if (problems.length > 0)
		throw new InputError("invalid-input", "The request holds what no field may hold.", { problems: problems.slice(0, 100) });
}

function look(
	value: unknown,
	path: readonly PropertyKey[],
	refuse: (path: readonly PropertyKey[], message: string) => void,
): void {
	if (typeof value === "string") {
		if (!isWellFormedText(value)) refuse(path, "holds a NUL character or half of a surrogate pair");
		return;
	}
	if (typeof value !== "object" || value === null) return;
	if (path.length >= DEEPEST) {
		refuse(path, `is nested deeper than ${DEEPEST} levels`);
		return;
	}
	if (Array.isArray(value) && value.length > LONGEST_LIST) {
		refuse(path, `holds more than ${LONGEST_LIST} values`);
		return;
	}
	for (const [key, inner] of Object.entries(value)) {
		if (!isWellFormedText(key)) {
			refuse(path, "has a name with a NUL character or half of a surrogate pair");
			return;
		}
		look(inner, [...path, key], refuse);
	}
}

/** @returns whether a text has neither NUL nor a lone surrogate */
export function isWellFormedText(text: string): boolean {
	return !text.includes("\0") && !/\p{Surrogate}/u.test(text);
}
