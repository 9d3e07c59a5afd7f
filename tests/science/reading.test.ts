import { beliefAfter } from "../../src/science/belief.js";
import {
	comparatorUnevenSteps,
	comparatorWholeSteps,
	dipStrip,
	dropCount,
	type Kit,
	photometer,
} from "../../src/science/kits.js";
import { bandEdgesMgPerL, readingInterval, strengthTestOf } from "../../src/science/reading.js";
import { type BandTest, chanceOfReading, type NumberTest } from "../../src/science/strength-test.js";
import { expectNear } from "./near.js";

const exposure = { equivalentDaysAt25C: 4, sunLossGPerL: 0 };
const oneInTwo = { sampleMl: 1, madeUpToL: 2 };
const prior = { medianInitialGPerL: 5, lnInitialSd: 0.2, medianRateMultiplier: 1, lnRateSd: 1.25 };
const solution = { initialStrengthGPerL: 5, hoclFraction: 0.0246, lossRateAt25CPerDay: 0.0094 };
const curve = { solution, strengthExponent: 2 as const };

/** Every reading of a kit that isn't a number. */
const readingsOf = (kit: Kit): readonly number[] =>
	kit.kind === "bands" ? kit.standardsMgPerL : kit.kind === "drops" ? Array.from({ length: kit.mostDrops }, (_, i) => i + 1) : [];

describe("chance of a reading", () => {
	it.each([
		comparatorWholeSteps,
		comparatorUnevenSteps,
		dropCount,
		dipStrip,
		{ ...comparatorUnevenSteps, misreadSpread: "everywhere" as const, misreadShare: 0.1 },
	])("sums to 1 over all readings of the $name, whatever the strength from 0.01 to 30 g/L", (kit) => {
		for (const strength of [0.01, 0.7, 3, 5.2, 30]) {
			const sum = readingsOf(kit).reduce(
				(total, reading) => total + chanceOfReading(strengthTestOf(kit, oneInTwo, reading, exposure), strength),
				0,
			);
			expectNear(sum, 1, 1e-12);
		}
	});
	it("sums to 1 over all numbers of a photometer with what is under and over its range, but for gross errors of 1 %", () => {
		const [low, high] = [Math.log(photometer.lowestMgPerL), Math.log(photometer.highestMgPerL)];
		let sum = chanceOfReading(strengthTestOf(photometer, oneInTwo, 0, exposure), 5);
		sum += chanceOfReading(strengthTestOf(photometer, oneInTwo, photometer.highestMgPerL, exposure), 5);
		for (let k = 0; k < 2000; k++) {
			const reading = Math.exp(low + ((high - low) * (k + 0.5)) / 2000);
			sum += (chanceOfReading(strengthTestOf(photometer, oneInTwo, reading, exposure), 5) * (high - low)) / 2000;
		}
		expectNear(sum, 1, 1e-3);
	});
	it("is (1 - e) of the band and e/6 of anything for a reading of 3 mg/L that may be misread anywhere", () => {
		const kit = { ...comparatorUnevenSteps, misreadSpread: "everywhere" as const };
		const test = strengthTestOf(kit, oneInTwo, 3, exposure) as BandTest;
		expect(test.edgesGPerL).toEqual([5, 8]);
		test.chances.forEach((chance, k) => {
			expectNear(chance, [0.02 / 6, 0.98 + 0.02 / 6, 0.02 / 6][k]!, 1e-15);
		});
	});
	it("is 1 % of either neighbouring band for a reading of 2 mg/L, but 2 % of the end band that has no other neighbour", () => {
		expect((strengthTestOf(comparatorWholeSteps, oneInTwo, 2, exposure) as BandTest).chances).toEqual([0, 0.01, 0.98, 0.01, 0]);
		expect((strengthTestOf(comparatorWholeSteps, oneInTwo, 4, exposure) as BandTest).chances).toEqual([0, 0.01, 0.98, 0.02]);
	});
	it("keeps its digits 20 log-sd out of the band: 2.7536e-89 for z above 20", () => {
		// Source: upper tail of the normal at 20, Abramowitz & Stegun 1964, eq. 26.2.12; value computed independently.
		const test: BandTest = { kind: "band", exposure, logSd: 0.1, edgesGPerL: [5 * Math.exp(2)], chances: [0, 1] };
		expectNear(chanceOfReading(test, 5) / 2.7536241186e-89, 1, 1e-6);
	});
	it("is a lognormal density for a number, with gross errors even over the scale", () => {
		const test = strengthTestOf(photometer, oneInTwo, 2.5, exposure) as NumberTest;
		expect(test.measuredGPerL).toBe(5);
		expectNear(chanceOfReading(test, 5), 0.99 / (0.12 * Math.sqrt(2 * Math.PI)) + 0.01 / Math.log(250), 1e-12);
	});
});

describe("bleached colours", () => {
	const undiluted = { sampleMl: 10, madeUpToL: 0.01 };
	it("leave the belief as it was, to 1e-12, when an undiluted sample shows no colour", () => {
		const [before, then] = [
			beliefAfter(prior, curve, []),
			beliefAfter(prior, curve, [strengthTestOf(comparatorWholeSteps, undiluted, 0, exposure)]),
		];
		expect(Math.max(...then.weights.map((weight, node) => Math.abs(weight - before.weights[node]!)))).toBeLessThan(1e-12);
	});
	it("let a weakly diluted sample say only 'at least': 2 mg/L at 1 mL in 0.5 L is 0.75 g/L or more", () => {
		expect(readingInterval(comparatorWholeSteps, { sampleMl: 1, madeUpToL: 0.5 }, 2)).toEqual({
			lowGPerL: 0.75,
			highGPerL: Number.POSITIVE_INFINITY,
			flag: "mayBeBleached",
		});
	});
	it("don't happen at 1 mL in 1 L unless a stock above 8 g/L must be reckoned with, nor ever on a strip", () => {
		const oneInOne = { sampleMl: 1, madeUpToL: 1 };
		expect(readingInterval(comparatorWholeSteps, oneInOne, 2).flag).toBeUndefined();
		expect(readingInterval(comparatorWholeSteps, oneInOne, 2, 9).flag).toBe("mayBeBleached");
		expect(readingInterval(dipStrip, undiluted, 0)).toEqual({ lowGPerL: 0, highGPerL: 0.00025 });
	});
});

describe("the ends of a scale", () => {
	it("are open for the photometer's highest number and down to 0 under its lowest", () => {
		expect(readingInterval(photometer, oneInTwo, 5)).toEqual({
			lowGPerL: 10,
			highGPerL: Number.POSITIVE_INFINITY,
			flag: "openTop",
		});
		expect(readingInterval(photometer, oneInTwo, 0.01)).toEqual({ lowGPerL: 0, highGPerL: 0.04 });
	});
	it("are closed for a kit without an open top: 5 mg/L is 4.5 to 5.5 mg/L", () => {
		expect(bandEdgesMgPerL({ ...comparatorWholeSteps, openTop: false })).toEqual([0.5, 1.5, 2.5, 3.5, 4.5, 5.5]);
		expect(readingInterval({ ...comparatorWholeSteps, openTop: false }, oneInTwo, 5)).toEqual({ lowGPerL: 9, highGPerL: 11 });
	});
	it("are the same for no drop as for one: less than 0.2 mg/L", () => {
		expect(readingInterval(dropCount, oneInTwo, 0)).toEqual(readingInterval(dropCount, oneInTwo, 1));
	});
});
