import { groupCountChances } from "./beta-binomial.js";
import { designEffect } from "./cluster-sample.js";
import { chanceOfRun, digitTest, longestIdenticalRun, matchShare } from "./identical-readings.js";
import { chanceOfRepeat, longestRepeatedSequence } from "./repeated-sequence.js";
import { runsTest } from "./runs-test.js";
import { chiSquareUpperP } from "./tail-chance.js";

/** What looks odd beside the peers. */
export type ReadingCheck = "longRun" | "tooUniform" | "tooFewOrManyRuns" | "lastDigits" | "noLowReading" | "repeatedSequence";

/** One odd thing with the chance that independent readings show it. */
export interface OddThing {
	readonly check: ReadingCheck;
	readonly p: number;
}

/** Chi-squared needs about five expected in each class. */
const LEAST_EXPECTED = 5;

function countsOf(values: readonly number[]): Map<number, number> {
	const counts = new Map<number, number>();
	for (const value of values) counts.set(value, (counts.get(value) ?? 0) + 1);
	return counts;
}

/** Shares among peers of every value that anyone read; half a reading is lent to each, so that none is impossible. */
function peerShares(peers: readonly number[], own: readonly number[]): Map<number, number> {
	const counts = countsOf(peers);
	for (const value of own) if (!counts.has(value)) counts.set(value, 0);
	const total = peers.length + counts.size / 2;
	return new Map([...counts].map(([value, count]) => [value, (count + 0.5) / total]));
}

function longRunP(own: readonly number[], shares: ReadonlyMap<number, number>): number {
	const { value, length } = longestIdenticalRun(own)!;
	const counts = countsOf(own);
	// Neighbours may share a source: the volunteer's own share counts where it is the larger.
	const share = Math.max(shares.get(value)!, counts.get(value)! / own.length);
	return Math.min(1, chanceOfRun({ share, readings: own.length, runLength: length }) * counts.size);
}

/** One value far more often than among peers: the rarest such excess, for as many values as were read. */
function tooUniformP(own: readonly number[], shares: ReadonlyMap<number, number>, alikeness: number): number {
	const counts = countsOf(own);
	const excess = [...counts].map(([value, count]) =>
		groupCountChances({ share: shares.get(value)!, size: own.length, intraclassCorrelation: alikeness })
			.slice(count)
			.reduce((sum, chance) => sum + chance, 0),
	);
	return Math.min(1, Math.min(...excess) * counts.size);
}

function runsP(own: readonly number[]): number {
	const middle = [...own].sort((a, b) => a - b)[own.length >> 1]!;
	return runsTest(own, middle)?.twoSidedP ?? 1;
}

function lastDigitsP(own: readonly number[], peers: readonly number[], alikeness: number): number {
	const digit = (steps: number): number => steps % 10;
	const shares = peerShares(peers.map(digit), own.map(digit));
	const counts = countsOf(own.map(digit));
	const [kept, rest] = [...shares].reduce<[[number, number][], [number, number]]>(
		([large, [restCount, restShare]], [value, share]) => {
			const count = counts.get(value) ?? 0;
			return share * own.length >= LEAST_EXPECTED
				? [
						[...large, [count, share]],
						[restCount, restShare],
					]
				: [large, [restCount + count, restShare + share]];
		},
		[[], [0, 0]],
	);
	const classes = rest[1] > 0 ? [...kept, rest] : kept;
	if (classes.length < 2) return 1;
	const { chiSquare, degreesOfFreedom } = digitTest(
		classes.map(([count]) => count),
		classes.map(([, share]) => share),
	);
	return chiSquareUpperP(chiSquare / designEffect(own.length, alikeness), degreesOfFreedom);
}

function noLowReadingP(own: readonly number[], peers: readonly number[], lowBelow: number, alikeness: number): number {
	if (own.some((value) => value < lowBelow)) return 1;
	const share = peers.filter((value) => value < lowBelow).length / peers.length;
	return groupCountChances({ share, size: own.length, intraclassCorrelation: alikeness })[0]!;
}

/** The latest readings are looked at: a list that is copied is copied again. */
const LATEST = 500;

/** A stretch that was written down a second time. The volunteer's own sameness counts where it is the larger. */
function repeatedSequenceP(own: readonly number[], shares: ReadonlyMap<number, number>): number {
	const latest = own.slice(-LATEST);
	const found = longestRepeatedSequence(latest);
	if (!found) return 1;
	const peers = [...shares.values()].reduce((sum, share) => sum + share * share, 0);
	return chanceOfRepeat({ matchChance: Math.max(peers, matchShare(latest)), readings: latest.length, length: found.length });
}

/**
 * What looks odd in a volunteer's readings beside the peers'.
 *
 * @param own readings in whole steps of the kit, in the order they were taken, at least one
 * @param peers readings of the others with the same kit, at least one
 * @param lowBelow steps under which a reading is low
 * @param alikeness how much readings of one volunteer resemble each other honestly, 0 to 0.5
 * @returns the six checks, each with the chance that honest readings look so odd or odder
 * Source: exact runs of one value; Boole's inequality for repeats; beta-binomial counts; Wald & Wolfowitz 1940; chi-squared over the design effect (Rao & Scott 1981).
 */
export function oddThings(own: readonly number[], peers: readonly number[], lowBelow: number, alikeness: number): OddThing[] {
	const shares = peerShares(peers, own);
	return [
		{ check: "longRun", p: longRunP(own, shares) },
		{ check: "tooUniform", p: tooUniformP(own, shares, alikeness) },
		{ check: "tooFewOrManyRuns", p: runsP(own) },
		{ check: "lastDigits", p: lastDigitsP(own, peers, alikeness) },
		{ check: "noLowReading", p: noLowReadingP(own, peers, lowBelow, alikeness) },
		{ check: "repeatedSequence", p: repeatedSequenceP(own, shares) },
	];
}
