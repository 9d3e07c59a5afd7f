import { distance } from "fastest-levenshtein";

/**
 * The name that a mistyped one was most likely meant to be.
 * @returns the known name with the fewest letters to change, whatever their case; the first of several;
 * none where a third of the letters or more would have to change
 */
export function nearestName(name: string, known: Iterable<string>): string | undefined {
	const wanted = name.toLowerCase();
	let fewest = Math.max(2, Math.floor(wanted.length / 3)) + 1;
	let nearest: string | undefined;
	for (const candidate of known) {
		if (Math.abs(candidate.length - wanted.length) >= fewest) continue;
		const changes = distance(wanted, candidate.toLowerCase());
		if (changes < fewest && changes < wanted.length) {
			fewest = changes;
			nearest = candidate;
		}
	}
	return nearest;
}

/** @returns `; did you mean "clear"?`, or nothing where no known name is near */
export function suggestion(name: string, known: Iterable<string>): string {
	const nearest = nearestName(name, known);
	return nearest === undefined ? "" : `; did you mean "${nearest}"?`;
}
