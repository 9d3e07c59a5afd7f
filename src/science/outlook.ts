import type { Belief } from "./belief.js";
import type { ExposureSum } from "./belief-curve.js";
import { strengthsOfBelief } from "./strength-now.js";

/** Mean and standard deviation of a strength at an instant. */
export interface StrengthMean {
	readonly meanGPerL: number;
	readonly sdGPerL: number;
}

/** The same for an instant to come. */
export interface StrengthAhead extends StrengthMean {
	readonly atMs: number;
}

/** @returns mean and standard deviation over the belief after an exposure: what amounts of chlorine are reckoned with */
export function strengthMean(belief: Belief, exposure: ExposureSum): StrengthMean {
	const strengths = strengthsOfBelief(belief, exposure);
	let meanGPerL = 0;
	for (let node = 0; node < strengths.length; node++) meanGPerL += belief.weights[node]! * strengths[node]!;
	let variance = 0;
	for (let node = 0; node < strengths.length; node++) variance += belief.weights[node]! * (strengths[node]! - meanGPerL) ** 2;
	return { meanGPerL, sdGPerL: Math.sqrt(variance) };
}

/**
 * Strength between the instants of an outlook: the logarithm of the mean and its relative spread run straight between two of them, and
 * on as they last ran behind the end.
 * @param outlook by rising instants, at least one; before the first the first holds
 */
export function strengthAhead(outlook: readonly StrengthAhead[], atMs: number): StrengthMean {
	const first = outlook[0] as StrengthAhead;
	if (outlook.length === 1 || atMs <= first.atMs) return first;
	let after = outlook.findIndex((point) => point.atMs >= atMs);
	if (after < 0) after = outlook.length - 1;
	const [from, until] = [outlook[after - 1] as StrengthAhead, outlook[after] as StrengthAhead];
	const part = (atMs - from.atMs) / (until.atMs - from.atMs);
	const meanGPerL = from.meanGPerL * (until.meanGPerL / from.meanGPerL) ** part;
	const spread = (point: StrengthAhead) => point.sdGPerL / point.meanGPerL;
	return { meanGPerL, sdGPerL: meanGPerL * (spread(from) + (spread(until) - spread(from)) * Math.min(1, part)) };
}

/** @returns the median of a lognormal of this mean and spread: above a limit, the strength is more likely above it than below */
export function medianOfMean({ meanGPerL, sdGPerL }: StrengthMean): number {
	return meanGPerL / Math.sqrt(1 + (sdGPerL / meanGPerL) ** 2);
}
