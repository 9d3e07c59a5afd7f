import { type Randomness, SeededRandomness } from "../time/randomness.js";

/**
 * Chance of its own for each thing that is drawn, so that a change to one part of the demo leaves the others as they were.
 *
 * @param start number of the whole demo, any finite number
 * @param names what is drawn, from the general to the particular
 * @returns the same draws for the same start and names
 */
export function drawsFor(start: number, ...names: readonly (string | number)[]): Randomness {
	const draws = new SeededRandomness(fnv1a(`${start}/${names.join("/")}`));
	// The generator begins with a state of mostly zeros; its first numbers still show it.
	for (let i = 0; i < 16; i++) draws.fraction();
	return draws;
}

/** Source: Fowler, Noll, Vo, FNV-1a, 32 bits: offset basis 2166136261, prime 16777619. */
function fnv1a(text: string): number {
	let hash = 2_166_136_261;
	for (let i = 0; i < text.length; i++) hash = Math.imul(hash ^ text.charCodeAt(i), 16_777_619);
	return hash | 0;
}

/** @returns true with a probability of 0 to 1 */
export function happens(draws: Randomness, probability: number): boolean {
	return draws.fraction() < probability;
}

/** @returns a number in [from, below) */
export function between(draws: Randomness, from: number, below: number): number {
	return from + (below - from) * draws.fraction();
}

/** @returns a positive number around a median; `lnSd` is the standard deviation of its logarithm, cut at 2.5 of them */
export function around(draws: Randomness, median: number, lnSd: number): number {
	return median * Math.exp(lnSd * Math.max(-2.5, Math.min(2.5, draws.normal())));
}

/** @returns one of the values, each as often as its weight says; the last where rounding leaves none */
export function weighted<T>(draws: Randomness, choices: readonly (readonly [T, number])[]): T {
	let rest = draws.fraction() * choices.reduce((sum, [, weight]) => sum + weight, 0);
	for (const [value, weight] of choices) {
		rest -= weight;
		if (rest < 0) return value;
	}
	return (choices[choices.length - 1] as readonly [T, number])[0];
}
