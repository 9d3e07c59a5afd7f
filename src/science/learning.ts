import type { Prior } from "./prior.js";
import type { BeliefMoments } from "./rate-belief.js";
import { valueWithin } from "./valid-range.js";

/** A batch that is used up or thrown away, with what was believed of it before and after its tests. */
export interface FinishedBatch {
	readonly generatorId: string;
	readonly placeId: string;
	/** What the recipe let expect, g/L as Cl2: strength counts as bias against this. */
	readonly expectedInitialGPerL: number;
	readonly prior: Prior;
	readonly posterior: BeliefMoments;
}

/** How wide a belief is where nothing has been learned yet. */
export interface Ignorance {
	/** Log-sd of the initial strength against the recipe, 0.12 to 1. */
	readonly lnInitialSd: number;
	/** Log-sd of the rate multiplier, 0.4 to 3: pH unknown 1.6, strip 1.25, meter 0.9. */
	readonly lnRateSd: number;
}

/** What one batch differs from the next by, with the same generator, place and recipe. Log-sd. Source: own choice. */
const BATCH_RATE_SD = 0.4;
const BATCH_INITIAL_SD = 0.12;
/** A prior never gets narrower than this before it is known what the batches themselves differ by. Source: own choice. */
const LEAST_RATE_SD = 0.5;
const LEAST_INITIAL_SD = 0.15;
/** From so many batches on that tests told something of, what they differ by is learned from them too, down to these. Own choice. */
const BATCHES_FOR_SPREAD = 8;
const LEAST_LEARNED = { rate: 0.3, initial: 0.08 } as const;
/** Of what is unknown of a rate, how much belongs to the generator (pH, salt); the rest to the place (its heat). Own choice. */
const GENERATOR_SHARE = 0.75;

/** What a batch's tests said by themselves, its own prior taken out: a value and its variance, or nothing. */
function said(priorMean: number, priorSd: number, mean: number, sd: number): { value: number; variance: number } | undefined {
	const priorPrecision = 1 / priorSd ** 2;
	const precision = 1 / sd ** 2 - priorPrecision;
	// Not narrower than its prior: the tests said nothing that a normal could carry on.
	if (!(precision > 1e-6 * priorPrecision)) return undefined;
	return { value: (mean / sd ** 2 - priorMean * priorPrecision) / precision, variance: 1 / precision };
}

/** Normal belief of several independent effects with mean 0, taken further one observation of a sum of them at a time. */
function effectsAfter(
	sds: readonly number[],
	seen: readonly { readonly of: readonly number[]; readonly value: number; readonly variance: number }[],
): { means: number[]; covariance: number[][]; lnChance: number } {
	let lnChance = 0;
	const means = sds.map(() => 0);
	const covariance = sds.map((sd, i) => sds.map((_, j) => (i === j ? sd * sd : 0)));
	for (const { of, value, variance } of seen) {
		const cross = covariance.map((row) => of.reduce((sum, k) => sum + row[k]!, 0));
		const total = of.reduce((sum, k) => sum + cross[k]!, variance);
		const surprise = value - of.reduce((sum, k) => sum + means[k]!, 0);
		lnChance -= 0.5 * (surprise ** 2 / total + Math.log(total));
		for (let i = 0; i < means.length; i++) {
			const gain = cross[i]! / total;
			means[i]! += gain * surprise;
			for (let j = 0; j < means.length; j++) covariance[i]![j]! -= gain * cross[j]!;
		}
	}
	return { means, covariance, lnChance };
}

/** What tests said of one batch: a sum of effects and of what is the batch's own, with the variance of the tests alone. */
interface Heard {
	readonly of: readonly number[];
	readonly value: number;
	readonly variance: number;
}

const withOwn = (heard: readonly Heard[], ownSd: number): Heard[] =>
	heard.map((one) => ({ ...one, variance: one.variance + ownSd ** 2 }));

/** Shares of the usual spread that are weighed, and how sure it is of itself before any batch: log-sd 0.5. Own choice. */
const SPREADS = Array.from({ length: 17 }, (_, i) => Math.exp((i - 8) * 0.15));
const SPREAD_LN_SD = 0.5;

/**
 * What batches differ by, from what their tests said.
 *
 * @returns the usual sd below 8 batches; else the root of the mean of its square over the belief, at least the least
 * Source: empirical Bayes over the between-batch sd; Gelman et al. 2013, section 5.4, on a grid with a lognormal prior.
 */
function ownSdLearned(usualSd: number, leastSd: number, effectSds: readonly number[], heard: readonly Heard[]): number {
	if (heard.length < BATCHES_FOR_SPREAD) return usualSd;
	const lnChances = SPREADS.map(
		(times) => effectsAfter(effectSds, withOwn(heard, usualSd * times)).lnChance - 0.5 * (Math.log(times) / SPREAD_LN_SD) ** 2,
	);
	const highest = Math.max(...lnChances);
	const weights = lnChances.map((ln) => Math.exp(ln - highest));
	const total = weights.reduce((sum, weight) => sum + weight, 0);
	const square = weights.reduce((sum, weight, i) => sum + (weight * SPREADS[i]! ** 2) / total, 0);
	return Math.max(leastSd, usualSd * Math.sqrt(square));
}

/**
 * What is believed of a new batch before any test, from the finished batches of its generator and its storage place.
 *
 * ln(rate multiplier) = generator + place + what is the batch's own; ln(strength/recipe) = generator + the batch's own. Each
 * part is a normal; batches of the same generator elsewhere, and of the same place with another generator, help to tell the
 * parts from each other. Strength and rate are learned apart; their correlation within a batch is left out.
 *
 * @param history finished batches, in any order; those that share neither generator nor place with the new one don't count
 * @param batch its generator, its place and what its recipe lets expect, 0.05 to 150 g/L as Cl2
 * @param ignorance how wide the belief is without any history
 * @returns a prior, never narrower than 0.15 for the strength and 0.5 for the rate (log-sd) below 8 batches that tests told something of;
 * from there on what batches differ by is learned from them too, down to 0.08 and 0.3. With no history the ignorance
 * @throws RangeError for an ignorance outside its ranges
 *
 * Source: normal hierarchical model, Gelman et al. 2013, Bayesian Data Analysis, 3rd ed., chapter 5, with known variances: the
 * batches' weights are 1/(variance + between-batch variance); updated one at a time as a Kalman filter does.
 */
export function priorForNextBatch(
	history: readonly FinishedBatch[],
	batch: { readonly generatorId: string; readonly placeId: string; readonly expectedInitialGPerL: number },
	ignorance: Ignorance,
): Prior {
	valueWithin("log-sd of the initial strength", ignorance.lnInitialSd, BATCH_INITIAL_SD, 1);
	valueWithin("log-sd of the rate multiplier", ignorance.lnRateSd, BATCH_RATE_SD, 3);
	const related = history.filter((past) => past.generatorId === batch.generatorId || past.placeId === batch.placeId);
	const rate = rateOfNext(related, batch, ignorance.lnRateSd);
	const bias = biasOfNext(related, batch.generatorId, ignorance.lnInitialSd);
	return {
		medianInitialGPerL: batch.expectedInitialGPerL * Math.exp(bias.mean),
		lnInitialSd: bias.sd,
		medianRateMultiplier: Math.exp(rate.mean),
		lnRateSd: rate.sd,
	};
}

function rateOfNext(related: readonly FinishedBatch[], batch: { generatorId: string; placeId: string }, sd: number) {
	const shared = sd * sd - BATCH_RATE_SD ** 2;
	const names = [`generator ${batch.generatorId}`, `place ${batch.placeId}`];
	const index = new Map(names.map((name, i) => [name, i]));
	const sds = [Math.sqrt(shared * GENERATOR_SHARE), Math.sqrt(shared * (1 - GENERATOR_SHARE))];
	const effect = (name: string, effectSd: number): number => {
		const known = index.get(name);
		if (known !== undefined) return known;
		index.set(name, sds.length);
		return sds.push(effectSd) - 1;
	};
	const seen = related.flatMap(({ generatorId, placeId, prior, posterior }) => {
		const heard = said(Math.log(prior.medianRateMultiplier), prior.lnRateSd, posterior.lnRateMean, posterior.lnRateSd);
		if (heard === undefined) return [];
		const of = [effect(`generator ${generatorId}`, sds[0]!), effect(`place ${placeId}`, sds[1]!)];
		return [{ of, ...heard }];
	});
	const ownSd = ownSdLearned(BATCH_RATE_SD, LEAST_LEARNED.rate, sds, seen);
	const { means, covariance } = effectsAfter(sds, withOwn(seen, ownSd));
	const variance = covariance[0]![0]! + covariance[1]![1]! + 2 * covariance[0]![1]! + ownSd ** 2;
	const least = seen.length < BATCHES_FOR_SPREAD ? LEAST_RATE_SD : LEAST_LEARNED.rate;
	return { mean: means[0]! + means[1]!, sd: Math.max(least, Math.sqrt(variance)) };
}

function biasOfNext(related: readonly FinishedBatch[], generatorId: string, sd: number) {
	const seen = related.flatMap((past) => {
		if (past.generatorId !== generatorId) return [];
		const { prior, posterior, expectedInitialGPerL } = past;
		const heard = said(Math.log(prior.medianInitialGPerL), prior.lnInitialSd, posterior.lnInitialMean, posterior.lnInitialSd);
		if (heard === undefined) return [];
		return [{ of: [0], value: heard.value - Math.log(expectedInitialGPerL), variance: heard.variance }];
	});
	const sds = [Math.sqrt(sd * sd - BATCH_INITIAL_SD ** 2)];
	const ownSd = ownSdLearned(BATCH_INITIAL_SD, LEAST_LEARNED.initial, sds, seen);
	const { means, covariance } = effectsAfter(sds, withOwn(seen, ownSd));
	const least = seen.length < BATCHES_FOR_SPREAD ? LEAST_INITIAL_SD : LEAST_LEARNED.initial;
	return { mean: means[0]!, sd: Math.max(least, Math.sqrt(covariance[0]![0]! + ownSd ** 2)) };
}

/**
 * The short rule for a site with a single finished batch: what was believed of its rate, widened by what batches differ by.
 *
 * @param posterior of the finished batch
 * @param expectedInitialGPerL what the next recipe lets expect, g/L as Cl2
 * @param lnInitialSd log-sd of the initial strength against the recipe
 * @returns a prior with sd = √(sd² + 0.4²), at least 0.5, for the rate; the strength starts from the recipe again
 *
 * Source: own choice. It takes the batch's own share for the site's, which `priorForNextBatch` doesn't: prefer that.
 */
export function priorAfterOneBatch(posterior: BeliefMoments, expectedInitialGPerL: number, lnInitialSd: number): Prior {
	return {
		medianInitialGPerL: expectedInitialGPerL,
		lnInitialSd,
		medianRateMultiplier: Math.exp(posterior.lnRateMean),
		lnRateSd: Math.max(LEAST_RATE_SD, Math.hypot(posterior.lnRateSd, BATCH_RATE_SD)),
	};
}
