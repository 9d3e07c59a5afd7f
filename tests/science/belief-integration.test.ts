import fc from "fast-check";
import { beliefAfter } from "../../src/science/belief.js";
import { comparatorUnevenSteps, comparatorWholeSteps, type Dilution, dropCount, photometer } from "../../src/science/kits.js";
import { normalCdf } from "../../src/science/normal.js";
import { strengthTestOf } from "../../src/science/reading.js";
import { strengthNow } from "../../src/science/strength-now.js";
import type { StrengthTest } from "../../src/science/strength-test.js";
import { chanceFrom, type InventedBatch, inventedBatch, inventedReading } from "./invented-batches.js";
import { expectNear } from "./near.js";

const { PI, exp, expm1, log, max, sqrt } = Math;

const dilutions: Dilution[] = [
	{ sampleMl: 1, madeUpToL: 1 },
	{ sampleMl: 1, madeUpToL: 2 },
	{ sampleMl: 1, madeUpToL: 5 },
];
const kits = [comparatorWholeSteps, comparatorUnevenSteps, dropCount, photometer];

/** A batch, one to four tests of it, and a later moment. */
function story(start: number) {
	const chance = chanceFrom(start);
	const batch = inventedBatch(chance);
	const sunADay = chance.pick([0, 0, 0.01]);
	const exposureAt = (days: number) => ({ equivalentDaysAt25C: days, sunLossGPerL: days * sunADay });
	const tests: StrengthTest[] = [];
	let days = 0;
	for (let n = Math.floor(1 + 4 * chance.uniform()); n > 0; n--) {
		const exposure = exposureAt(days);
		const kit = chance.pick(kits);
		const dilution = chance.pick(dilutions);
		tests.push(strengthTestOf(kit, dilution, inventedReading(chance, kit, dilution, batch.strengthGPerL(exposure)), exposure));
		days += 12 * chance.uniform();
	}
	return { batch, tests, later: exposureAt(days) };
}

/** Chance of a reading written out plainly, by the library's distribution alone. */
function plainChance(test: StrengthTest, strengthGPerL: number): number {
	const z = (edgeGPerL: number) => log(edgeGPerL / strengthGPerL) / test.logSd;
	if (test.kind === "number") {
		const height = exp(-0.5 * z(test.measuredGPerL) ** 2) / (test.logSd * sqrt(2 * PI));
		return (1 - test.grossShare) * height + test.grossShare / test.grossLnSpan;
	}
	const below = [0, ...test.edgesGPerL.map((edge) => normalCdf(z(edge))), 1];
	return test.chances.reduce((sum, chance, k) => sum + chance * (below[k + 1]! - below[k]!), 0);
}

/**
 * The posterior by a Fibonacci lattice of 317 811 points over ±7 prior sd, every strength sorted: no box, no fast path, no cells.
 */
function bruteForce({ prior, curve }: InventedBatch, tests: readonly StrengthTest[], later: StrengthTest["exposure"]) {
	const POINTS = 317_811;
	const GENERATOR = 196_418;
	const strengthOf = ({ equivalentDaysAt25C, sunLossGPerL }: StrengthTest["exposure"], initial: number, rate: number) => {
		const { hoclFraction, lossRateAt25CPerDay, initialStrengthGPerL } = curve.solution;
		const exponent = rate * lossRateAt25CPerDay * (initial / initialStrengthGPerL) ** 2 * equivalentDaysAt25C;
		const left = initial * (1 - hoclFraction) * exp(-exponent);
		const sun = exponent > 0 ? (sunLossGPerL * -expm1(-exponent)) / exponent : sunLossGPerL;
		return initial * hoclFraction + max(0, left - sun);
	};
	const cells: { strength: number; weight: number }[] = [];
	const evidence = tests.map(() => 0);
	let total = 0;
	let mean = 0;
	for (let i = 0; i < POINTS; i++) {
		const u = -7 + (14 * (i + 0.5)) / POINTS;
		const v = -7 + 14 * (((i * GENERATOR) % POINTS) / POINTS);
		const initial = prior.medianInitialGPerL * exp(u * prior.lnInitialSd);
		const rate = prior.medianRateMultiplier * exp(v * prior.lnRateSd);
		let weight = ((exp(-0.5 * (u * u + v * v)) / (2 * PI)) * 196) / POINTS;
		tests.forEach((test, k) => {
			weight *= weight > 1e-16 ? plainChance(test, strengthOf(test.exposure, initial, rate)) : 0;
			evidence[k]! += weight;
		});
		if (weight < 1e-16) continue;
		const strength = strengthOf(later, initial, rate);
		cells.push({ strength, weight });
		total += weight;
		mean += weight * strength;
	}
	cells.sort((a, b) => a.strength - b.strength);
	const quantile = (share: number) => {
		let sum = 0;
		for (let k = 0; k < cells.length; k++) {
			const before = sum + cells[k]!.weight / 2;
			sum += cells[k]!.weight;
			const next = cells[k + 1];
			const after = next ? sum + next.weight / 2 : total;
			if (after < share * total || !next) continue;
			return cells[k]!.strength + ((share * total - before) / (after - before)) * (next.strength - cells[k]!.strength);
		}
		return cells.at(-1)!.strength;
	};
	return { low: quantile(0.05), median: quantile(0.5), high: quantile(0.95), mean: mean / total, evidence };
}

describe("the adaptive grid against brute-force integration", () => {
	// Computed independently, within the test: 30 invented batches, each with 1 to 4 tests by any kit and dilution.
	it("has quantiles within 0.02 g/L, the mean within 0.002 g/L and evidence within 0.3 % of a lattice sum", () => {
		fc.assert(
			fc.property(fc.integer({ min: 1, max: 1_000_000 }), (start) => {
				const { batch, tests, later } = story(start);
				const belief = beliefAfter(batch.prior, batch.curve, tests);
				const now = strengthNow(belief, later);
				const brute = bruteForce(batch, belief.tests, later);
				expectNear(now.lowGPerL, brute.low, 0.02);
				expectNear(now.medianGPerL, brute.median, 0.02);
				expectNear(now.highGPerL, brute.high, 0.02);
				expectNear(now.meanGPerL, brute.mean, 0.002);
				brute.evidence.forEach((evidence, k) => {
					expectNear(belief.evidence[k]!.cumulative / evidence, 1, 3e-3);
				});
			}),
			{ seed: 11, numRuns: 30 },
		);
	}, 120_000);
});
