import { uniformFloat64 } from "pure-rand/distribution/uniformFloat64";
import { xoroshiro128plus } from "pure-rand/generator/xoroshiro128plus";
import type { ExposureSum, StandardCurve } from "../../src/science/belief-curve.js";
import type { Dilution, Kit } from "../../src/science/kits.js";
import { normalQuantile } from "../../src/science/normal.js";
import type { Prior } from "../../src/science/prior.js";
import { bandEdgesMgPerL, dilutionFactor, misreadingChance } from "../../src/science/reading.js";
import { strengthAfterGPerL } from "../../src/science/strength-curve.js";

/** A stream of chance that is the same in every run. */
export interface Chance {
	/** Above 0 and below 1. */
	readonly uniform: () => number;
	readonly normal: () => number;
	readonly pick: <T>(from: readonly T[]) => T;
}

export function chanceFrom(start: number): Chance {
	const generator = xoroshiro128plus(start);
	const uniform = () => Math.max(uniformFloat64(generator), 2 ** -53);
	return { uniform, normal: () => normalQuantile(uniform()), pick: (from) => from[Math.floor(uniform() * from.length)]! };
}

/** A batch whose truth is known because it is invented: drawn from its own prior. */
export interface InventedBatch {
	readonly prior: Prior;
	readonly curve: StandardCurve;
	readonly initialGPerL: number;
	readonly rateMultiplier: number;
	readonly strengthGPerL: (exposure: ExposureSum) => number;
}

export function inventedBatch(chance: Chance): InventedBatch {
	const prior = {
		medianInitialGPerL: 3.5 + 3 * chance.uniform(),
		lnInitialSd: 0.15 + 0.1 * chance.uniform(),
		medianRateMultiplier: Math.exp(0.5 * chance.normal()),
		lnRateSd: chance.pick([0.5, 0.9, 1.25, 1.6]),
	};
	const solution = {
		initialStrengthGPerL: 5,
		hoclFraction: chance.pick([0, 0.0246, 0.07]),
		lossRateAt25CPerDay: 0.003 + 0.017 * chance.uniform(),
	};
	const initialGPerL = prior.medianInitialGPerL * Math.exp(prior.lnInitialSd * chance.normal());
	const rateMultiplier = prior.medianRateMultiplier * Math.exp(prior.lnRateSd * chance.normal());
	return {
		prior,
		curve: { solution, strengthExponent: 2 },
		initialGPerL,
		rateMultiplier,
		strengthGPerL: ({ equivalentDaysAt25C, sunLossGPerL }) =>
			strengthAfterGPerL(initialGPerL, rateMultiplier, solution, equivalentDaysAt25C, sunLossGPerL),
	};
}

/** What a kit would show for a true strength of the stock, by the kit's own error and misreadings. */
export function inventedReading(chance: Chance, kit: Kit, dilution: Dilution, strengthGPerL: number): number {
	const trueMgPerL = (Math.max(strengthGPerL, 1e-9) * 1000) / dilutionFactor(dilution);
	const measuredMgPerL = trueMgPerL * Math.exp(kit.logSd * chance.normal());
	if (kit.kind === "number") {
		const span = Math.log(kit.highestMgPerL / kit.lowestMgPerL);
		const gross = chance.uniform() < kit.misreadShare;
		const shown = gross ? kit.lowestMgPerL * Math.exp(span * chance.uniform()) : measuredMgPerL;
		return Math.min(kit.highestMgPerL, shown < kit.lowestMgPerL ? 0 : shown);
	}
	const edges = bandEdgesMgPerL(kit);
	const measured = edges.filter((edge) => measuredMgPerL >= edge).length;
	let left = chance.uniform();
	let band = -1;
	while (left > 0 && band < edges.length) left -= misreadingChance(kit, measured, ++band, edges.length + 1);
	return kit.kind === "bands" ? kit.standardsMgPerL[band]! : band + 1;
}
