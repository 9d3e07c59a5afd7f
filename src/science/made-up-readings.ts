import { longestIdenticalRun, matchShare } from "./identical-readings.js";
import { type OddThing, oddThings } from "./reading-checks.js";
import { standingAlarms } from "./tail-chance.js";
import { valueWithin } from "./valid-range.js";
import { type OddInterval, oddIntervals, type TimedVisit, type VisitLimits } from "./visit-times.js";
import { wholeWithin } from "./whole-number.js";

/** A volunteer's residual readings with one kind of kit. */
export interface VolunteerReadings {
	readonly volunteerId: string;
	/** Whole steps of the kit (a reading of 0.5 mg/L in steps of 0.1 is 5), in the order they were taken. */
	readonly steps: readonly number[];
	readonly visits?: readonly TimedVisit[];
}

/** What was looked at. */
export interface ReadingFigures {
	/** Share of the volunteer's pairs of readings that match, and of pairs of peers' readings. */
	readonly matchShare: number;
	readonly peerMatchShare: number;
	readonly longestRun: number;
	/** Intervals between visits that no one can have walked or worked in; none without visits. */
	readonly oddTimes: readonly OddInterval[];
}

/** Advice on a volunteer's readings. "check" asks for a re-visit and a talk; it is never a finding against anyone. */
export type ReadingAdvice = { readonly volunteerId: string } & (
	| { readonly kind: "tooFewReadings"; readonly moreReadings: number }
	| { readonly kind: "nothingOdd"; readonly figures: ReadingFigures }
	| { readonly kind: "check"; readonly odd: readonly OddThing[]; readonly figures: ReadingFigures }
);

/** How the checks are set. */
export interface ReadingCheckSettings {
	/** Readings in steps under this count as low, 1 or more: 2 for 0.2 mg/L in steps of 0.1. */
	readonly lowBelowSteps: number;
	/** Share of false alarms among the alarms, above 0 to 0.5. Default 0.05. */
	readonly falseShare?: number;
	/** Fewest readings that are looked at, 20 or more. Default 20. */
	readonly fewestReadings?: number;
	/** How much readings of one volunteer resemble each other honestly, through shared sources, 0 to 0.5. Default 0.05. */
	readonly alikeness?: number;
	readonly visitLimits?: VisitLimits;
}

/** Peers must have this many readings together before anyone is held against them. */
const PEER_READINGS = 60;
/**
 * Readings that deserve a second look beside those of peers with the same kit.
 *
 * @param volunteers each with readings in whole steps of the kit, 0 to 10 000
 * @param settings low limit, share of false alarms, fewest readings, limits for times
 * @returns advice for each, in the given order; the checks of a volunteer share one alarm (smallest p times six) and the alarms of
 *   all volunteers one share of false ones. Odd times are told beside it and raise no alarm alone: paper forms entered together look
 *   the same. Fewer than 60 readings of peers: too few for everyone
 * @throws RangeError outside these ranges
 * Peers are compared, not laws of digits: residuals of 0 to 5 mg/L on fixed steps don't follow Benford's. One good source, one careful
 * hand or one bad batch of reagent can explain any of it. Source: Wald & Wolfowitz 1940; Benjamini & Hochberg 1995; beta-binomial
 * counts and chi-squared over the design effect (Rao & Scott 1981) for readings that resemble each other.
 */
export function readingAdvice(volunteers: readonly VolunteerReadings[], settings: ReadingCheckSettings): ReadingAdvice[] {
	const fewest = wholeWithin("fewest readings", settings.fewestReadings ?? 20, 20, 10_000);
	const lowBelow = valueWithin("low limit in steps", settings.lowBelowSteps, 1, 10_000);
	const falseShare = settings.falseShare ?? 0.05;
	for (const { steps } of volunteers) for (const step of steps) wholeWithin("reading in steps of the kit", step, 0, 10_000);

	const alikeness = valueWithin("alikeness", settings.alikeness ?? 0.05, 0, 0.5);
	const looked = volunteers.flatMap((volunteer, index) => {
		const peers = volunteers.flatMap((other, at) => (at === index ? [] : other.steps));
		if (volunteer.steps.length < fewest || peers.length < PEER_READINGS) return [];
		const odd = oddThings(volunteer.steps, peers, lowBelow, alikeness);
		const peerMatchShare = matchShare(peers);
		return [{ index, odd, peerMatchShare, p: Math.min(1, odd.length * Math.min(...odd.map(({ p }) => p))) }];
	});
	const stands = standingAlarms(
		looked.map(({ p }) => p),
		falseShare,
	);
	const byIndex = new Map(looked.map((one, at) => [one.index, { ...one, stands: stands[at]! }]));
	return volunteers.map(({ volunteerId, steps, visits }, index) => {
		const one = byIndex.get(index);
		if (!one) return { volunteerId, kind: "tooFewReadings", moreReadings: Math.max(0, fewest - steps.length) };
		const figures: ReadingFigures = {
			matchShare: matchShare(steps),
			peerMatchShare: one.peerMatchShare,
			longestRun: longestIdenticalRun(steps)!.length,
			oddTimes: visits ? oddIntervals(visits, settings.visitLimits) : [],
		};
		if (!one.stands) return { volunteerId, kind: "nothingOdd", figures };
		// The one that raised the alarm, and any other that would have by itself.
		const odd = one.odd.filter(({ p }) => p * one.odd.length <= Math.max(falseShare, one.p)).sort((a, b) => a.p - b.p);
		return { volunteerId, kind: "check", odd, figures };
	});
}
