import { type FinishedBatch, priorAfterOneBatch, priorForNextBatch } from "../../src/science/learning.js";
import { chanceFrom } from "./invented-batches.js";
import { expectNear } from "./near.js";

const ignorance = { lnInitialSd: 0.2, lnRateSd: 1.6 };
const next = { generatorId: "one", placeId: "cellar", expectedInitialGPerL: 5 };
const startingPrior = { medianInitialGPerL: 5, lnInitialSd: 0.2, medianRateMultiplier: 1, lnRateSd: 1.6 };

/** A finished batch whose tests alone said `lnRate` and `lnBias`, each with a log-sd. */
function finished(generatorId: string, placeId: string, lnRate: number, rateSd: number, lnBias = 0, biasSd = 0.1): FinishedBatch {
	const combine = (priorMean: number, priorSd: number, value: number, sd: number) => {
		const precision = 1 / priorSd ** 2 + 1 / sd ** 2;
		return { mean: (priorMean / priorSd ** 2 + value / sd ** 2) / precision, sd: Math.sqrt(1 / precision) };
	};
	const rate = combine(0, 1.6, lnRate, rateSd);
	const initial = combine(Math.log(5), 0.2, Math.log(5) + lnBias, biasSd);
	return {
		generatorId,
		placeId,
		expectedInitialGPerL: 5,
		prior: startingPrior,
		posterior: { lnInitialMean: initial.mean, lnInitialSd: initial.sd, lnRateMean: rate.mean, lnRateSd: rate.sd },
	};
}

/** Mean and variance of a target given observations, by elimination in the joint normal: cov·x = c. */
function conditioned(covariance: number[][], values: number[], toTarget: number[], targetVariance: number) {
	const rows = covariance.map((row, i) => [...row, values[i]!, toTarget[i]!]);
	for (let k = 0; k < rows.length; k++) {
		for (let i = 0; i < rows.length; i++) {
			if (i === k) continue;
			const factor = rows[i]![k]! / rows[k]![k]!;
			rows[i] = rows[i]!.map((cell, j) => cell - factor * rows[k]![j]!);
		}
	}
	const n = rows.length;
	let mean = 0;
	let variance = targetVariance;
	rows.forEach((row, i) => {
		mean += (toTarget[i]! * row[n]!) / row[i]!;
		variance -= (toTarget[i]! * row[n + 1]!) / row[i]!;
	});
	return { mean, sd: Math.sqrt(variance) };
}

describe("learning from finished batches", () => {
	it("tells generator from place as the joint normal of all batches does, to 1e-9", () => {
		// Computed independently: rate = generator + place + 0.4 of the batch's own; 1.6² - 0.4² = 2.4, of it 3/4 to the generator.
		const told: [string, string, number, number][] = [
			["one", "shed", 1.1, 0.3],
			["one", "shed", 0.7, 0.5],
			["one", "cellar", 0.2, 0.4],
			["two", "cellar", -0.6, 0.25],
			["two", "cellar", -0.9, 0.6],
		];
		const shared = (a: readonly unknown[], b: readonly unknown[]) => (a[0] === b[0] ? 1.8 : 0) + (a[1] === b[1] ? 0.6 : 0);
		const covariance = told.map((a, i) => told.map((b, j) => shared(a, b) + (i === j ? 0.16 + a[3] ** 2 : 0)));
		const target = ["one", "cellar"];
		const expected = conditioned(
			covariance,
			told.map(([, , value]) => value),
			told.map((a) => shared(a, target)),
			2.56,
		);
		const prior = priorForNextBatch(
			told.map(([g, p, value, sd]) => finished(g, p, value, sd)),
			next,
			ignorance,
		);
		expectNear(Math.log(prior.medianRateMultiplier), expected.mean, 1e-9);
		expectNear(prior.lnRateSd, Math.max(0.5, expected.sd), 1e-9);
	});
	it("gives the same prior for any order of the history, to 1e-12", () => {
		const history = [0.9, -0.3, 0.4, 1.2].map((value, i) =>
			finished(i % 2 ? "one" : "two", i < 2 ? "cellar" : "shed", value, 0.4, 0.1 * i),
		);
		const [one, other] = [
			priorForNextBatch(history, next, ignorance),
			priorForNextBatch([...history].reverse(), next, ignorance),
		];
		expectNear(one.medianRateMultiplier / other.medianRateMultiplier, 1, 1e-12);
		expectNear(one.lnRateSd, other.lnRateSd, 1e-12);
		expectNear(one.medianInitialGPerL / other.medianInitialGPerL, 1, 1e-12);
	});
	it("lowers what is expected of a generator whose batches came out 15 % weak, to within a fifth of that after 6", () => {
		const history = Array.from({ length: 6 }, () => finished("one", "shed", 0, 0.5, Math.log(0.85), 0.1));
		const prior = priorForNextBatch(history, next, ignorance);
		expect(prior.medianInitialGPerL / 5).toBeGreaterThan(0.85);
		expect(prior.medianInitialGPerL / 5).toBeLessThan(0.88);
		const elsewhere = priorForNextBatch(history, { ...next, generatorId: "two", placeId: "shed" }, ignorance);
		expectNear(elsewhere.medianInitialGPerL, 5, 1e-12);
	});
	it("learns nothing from a batch that was never tested", () => {
		const { lnInitialSd, lnRateSd } = startingPrior;
		const posterior = { lnInitialMean: Math.log(5), lnInitialSd, lnRateMean: 0, lnRateSd };
		const untested = { ...finished("one", "cellar", 0, 1), posterior };
		const prior = priorForNextBatch([untested, untested], next, ignorance);
		expectNear(prior.lnRateSd, 1.6, 1e-12);
		expectNear(prior.medianRateMultiplier, 1, 1e-12);
	});
	it("is right about as often as it says: learned errors over their sd have a mean square of 1 ± 0.08 in 4 000 invented sites", () => {
		// Computed independently: generators, places and batches drawn from the model itself; standard error 0.022.
		const chance = chanceFrom(31);
		let square = 0;
		const SITES = 4_000;
		for (let site = 0; site < SITES; site++) {
			const [one, two] = [Math.sqrt(1.8) * chance.normal(), Math.sqrt(1.8) * chance.normal()];
			const [cellar, shed] = [Math.sqrt(0.6) * chance.normal(), Math.sqrt(0.6) * chance.normal()];
			const seen = (g: number, p: number, sd: number) => g + p + 0.4 * chance.normal() + sd * chance.normal();
			const history = [
				finished("one", "cellar", seen(one, cellar, 0.5), 0.5),
				finished("one", "shed", seen(one, shed, 0.7), 0.7),
				finished("two", "cellar", seen(two, cellar, 0.3), 0.3),
			];
			const prior = priorForNextBatch(history, next, ignorance);
			const truth = one + cellar + 0.4 * chance.normal();
			square += ((truth - Math.log(prior.medianRateMultiplier)) / prior.lnRateSd) ** 2 / SITES;
		}
		expect(Math.abs(square - 1)).toBeLessThan(0.08);
	});
	it.each([
		["as alike as 0.06 and 0.25", 0.06, 0.25],
		["as unlike as 0.25 and 0.7", 0.25, 0.7],
	])("learns from 30 batches what they differ by, %s, and is then right about as often as it says", (_, initialSd, rateSd) => {
		// Computed independently: 300 invented generators whose batches differ by less or more than usual; standard errors 0.1.
		const chance = chanceFrom(77);
		let [initialSquare, rateSquare] = [0, 0];
		const SITES = 300;
		let widths = 0;
		for (let site = 0; site < SITES; site++) {
			const [bias, rate] = [0.1 * chance.normal(), 1.2 * chance.normal()];
			const history = Array.from({ length: 30 }, () =>
				finished(
					...(["one", "cellar"] as const),
					...([rate + rateSd * chance.normal() + 0.3 * chance.normal(), 0.3] as const),
					...([bias + initialSd * chance.normal() + 0.1 * chance.normal(), 0.1] as const),
				),
			);
			const prior = priorForNextBatch(history, next, ignorance);
			const [nextBias, nextRate] = [bias + initialSd * chance.normal(), rate + rateSd * chance.normal()];
			initialSquare += ((nextBias - Math.log(prior.medianInitialGPerL / 5)) / prior.lnInitialSd) ** 2 / SITES;
			rateSquare += ((nextRate - Math.log(prior.medianRateMultiplier)) / prior.lnRateSd) ** 2 / SITES;
			widths += prior.lnInitialSd / SITES;
		}
		// What is learned of a spread stays between what was usual and what was seen.
		expect(initialSquare).toBeGreaterThan(0.45);
		expect(initialSquare).toBeLessThan(1.45);
		expect(rateSquare).toBeGreaterThan(0.45);
		expect(rateSquare).toBeLessThan(1.45);
		expect(Math.abs(widths - initialSd)).toBeLessThan(Math.abs(0.15 - initialSd));
	});
	it("refuses an ignorance narrower than what batches differ by: 0.3 in the rate", () => {
		expect(() => priorForNextBatch([], next, { lnInitialSd: 0.2, lnRateSd: 0.3 })).toThrow(RangeError);
	});
});

describe("the short rule after one batch", () => {
	// Source: own choice: sd = √(sd² + 0.4²), at least 0.5.
	it.each([
		[0.1, 0.5],
		[0.3, 0.5],
		[0.6, 0.72111],
		[1.6, 1.64924],
	])("widens a rate known to %d to %d", (lnRateSd, expected) => {
		const posterior = { lnInitialMean: 1.6, lnInitialSd: 0.1, lnRateMean: 0.7, lnRateSd };
		const prior = priorAfterOneBatch(posterior, 4.5, 0.2);
		expectNear(prior.lnRateSd, expected, 1e-5);
		expectNear(Math.log(prior.medianRateMultiplier), 0.7, 1e-12);
		expect(prior).toMatchObject({ medianInitialGPerL: 4.5, lnInitialSd: 0.2 });
	});
});
