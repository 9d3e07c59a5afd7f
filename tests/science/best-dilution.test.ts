import { beliefAfter } from "../../src/science/belief.js";
import { mostTellingDilution } from "../../src/science/best-dilution.js";
import { comparatorUnevenSteps, comparatorWholeSteps, dropCount, photometer } from "../../src/science/kits.js";
import { normalCdf } from "../../src/science/normal.js";
import { bandEdgesMgPerL, misreadingChance } from "../../src/science/reading.js";
import { expectNear } from "./near.js";

const solution = { initialStrengthGPerL: 5, hoclFraction: 0.0246, lossRateAt25CPerDay: 0.0094 };
const curve = { solution, strengthExponent: 2 as const };
const fresh = { equivalentDaysAt25C: 0, sunLossGPerL: 0 };
const made = (madeUpToL: number) => ({ sampleMl: 1, madeUpToL });
const bits = (chances: readonly number[]) => chances.reduce((sum, p) => (p > 0 ? sum - p * Math.log2(p) : sum), 0);

/** Information of a comparator reading about a lognormal strength and about a limit, by sums over the strength written out. */
function plainInformation(median: number, lnSd: number, factor: number, limit: number) {
	const kit = { ...comparatorWholeSteps, highestReliableMgPerL: undefined };
	const edges = bandEdgesMgPerL(kit);
	const sides = [new Array(6).fill(0), new Array(6).fill(0)];
	let noise = 0;
	let under = 0;
	for (let k = 0; k < 4000; k++) {
		const z = -7 + (14 * (k + 0.5)) / 4000;
		const weight = (Math.exp((-z * z) / 2) / Math.sqrt(2 * Math.PI)) * (14 / 4000);
		const strength = median * Math.exp(lnSd * z);
		const below = [0, ...edges.map((edge) => normalCdf(Math.log((edge * factor) / 1000 / strength) / kit.logSd)), 1];
		const measured = below.slice(1).map((p, band) => p - below[band]!);
		const shown = measured.map((_, band) => measured.reduce((sum, p, m) => sum + p * misreadingChance(kit, m, band, 6), 0));
		noise += weight * bits(shown);
		if (strength < limit) under += weight;
		shown.forEach((p, band) => {
			sides[strength < limit ? 0 : 1]![band] += weight * p;
		});
	}
	const total = bits(sides[0]!.map((p, band) => p + sides[1]![band]));
	return { strength: total - noise, limit: total + bits([under, 1 - under]) - bits(sides.flat()) };
}

describe("what a dilution would tell", () => {
	const belief = beliefAfter({ medianInitialGPerL: 5, lnInitialSd: 0.25, medianRateMultiplier: 1, lnRateSd: 1.25 }, curve, []);
	it.each([1, 2, 4])("is the information of a reading at 1 mL in %d L, within 0.01 bit of a sum written out", (madeUpToL) => {
		// Computed independently, within the test. Bleaching is set aside: nothing of this belief is above 8 mg/L but at 1 mL in 1 L.
		const kit = { ...comparatorWholeSteps, highestReliableMgPerL: undefined };
		const [worth] = mostTellingDilution(belief, fresh, kit, [made(madeUpToL)], 4.2);
		const plain = plainInformation(5, 0.25, madeUpToL * 1000, 4.2);
		expectNear(worth!.aboutStrengthBit, plain.strength, 0.01);
		expectNear(worth!.aboutLimitBit, plain.limit, 0.01);
	});
	it("ranks 1 mL in 2 L before 1 mL in 1 L for a jar of 5 or of 7 g/L, which both read off the top at 1 mL in 1 L", () => {
		const wide = beliefAfter({ medianInitialGPerL: 5.9, lnInitialSd: 0.17, medianRateMultiplier: 1, lnRateSd: 1.25 }, curve, []);
		const ranked = mostTellingDilution(wide, fresh, comparatorUnevenSteps, [made(1), made(2)], 5);
		expect(ranked.map(({ dilution }) => dilution.madeUpToL)).toEqual([2, 1]);
		expect(ranked[1]!.chanceOffTheTop).toBeGreaterThan(0.9);
		expect(ranked[0]!.aboutStrengthBit).toBeGreaterThan(1.5 * ranked[1]!.aboutStrengthBit);
	});
	it("is nothing where the sample bleaches: 1 mL in 0.1 L of 5 g/L is 50 mg/L", () => {
		const [worth] = mostTellingDilution(belief, fresh, comparatorWholeSteps, [made(0.1)], 4.2);
		expectNear(worth!.chanceBleached, 1, 1e-6);
		expectNear(worth!.aboutStrengthBit, 0, 1e-6);
		expectNear(worth!.aboutLimitBit, 0, 1e-6);
	});
	it("is more the finer the kit: comparator, then photometer, then drop count at 1 mL in 2 L", () => {
		const told = [comparatorWholeSteps, photometer, dropCount].map(
			(kit) => mostTellingDilution(belief, fresh, kit, [made(2)], 4.2)[0]!.aboutStrengthBit,
		);
		expect([...told].sort((a, b) => a - b)).toEqual(told);
	});
	it("refuses a limit of 0 g/L", () => {
		expect(() => mostTellingDilution(belief, fresh, dropCount, [made(1)], 0)).toThrow(RangeError);
	});
});
