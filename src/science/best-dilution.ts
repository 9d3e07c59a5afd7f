import type { Belief } from "./belief.js";
import type { ExposureSum } from "./belief-curve.js";
import type { Dilution, Kit } from "./kits.js";
import { upperTail } from "./normal.js";
import { bandEdgesMgPerL, dilutionFactor, misreadingChance } from "./reading.js";
import { strengthsOfBelief } from "./strength-now.js";
import { valueWithin } from "./valid-range.js";

/** What one dilution is expected to tell. */
export interface DilutionWorth {
	readonly dilution: Dilution;
	/** Expected information about whether the batch is under the limit, bit; at most 1. */
	readonly aboutLimitBit: number;
	/** Expected information about its strength, bit. */
	readonly aboutStrengthBit: number;
	/** Chance that it reads in the highest band, 0 to 1. */
	readonly chanceOffTheTop: number;
	/** Chance that the sample is strong enough to bleach the colour, 0 to 1. */
	readonly chanceBleached: number;
}

/** The belief in strength as a histogram in ln(strength), with the part under the limit beside the whole. */
interface Histogram {
	readonly strengths: Float64Array;
	readonly weights: Float64Array;
	readonly under: Float64Array;
}

const BINS = 200;
/** A number is taken as bands of this many test sds: finer ones tell no more. */
const NUMBER_BAND_SD = 0.5;

/**
 * How much each dilution would tell at the next test, the most telling first.
 *
 * @param belief of the batch
 * @param exposure what will have happened to it when it is tested
 * @param kit the kit at hand
 * @param choices dilutions that can be made
 * @param limitGPerL strength the batch must have, above 0 to 1000 g/L as Cl2
 * @returns one entry a choice, by the sum of both figures: the question of the limit counts twice because it is part of the
 * strength. A bleached sample is taken to show any band with equal chance, so that it tells nothing.
 * @throws RangeError for an impossible dilution or limit, or no choice at all
 *
 * Source: expected information of an experiment, Lindley 1956, Ann. Math. Statist. 27:986; mutual information of Shannon 1948.
 */
export function mostTellingDilution(
	belief: Belief,
	exposure: ExposureSum,
	kit: Kit,
	choices: readonly Dilution[],
	limitGPerL: number,
): DilutionWorth[] {
	valueWithin("limit in g/L", limitGPerL, 1e-3, 1000);
	if (choices.length === 0) throw new RangeError("name at least one dilution to choose from");
	const histogram = histogramOf(belief.weights, strengthsOfBelief(belief, exposure), limitGPerL);
	const worth = ({ aboutLimitBit, aboutStrengthBit }: DilutionWorth) => aboutLimitBit + aboutStrengthBit;
	return choices.map((dilution) => worthOf(dilution, kit, histogram)).sort((a, b) => worth(b) - worth(a));
}

function histogramOf(weights: readonly number[], strengths: Float64Array, limitGPerL: number): Histogram {
	const logs = strengths.map((strength) => Math.log(Math.max(strength, 1e-9)));
	let low = Number.POSITIVE_INFINITY;
	let high = Number.NEGATIVE_INFINITY;
	logs.forEach((log, node) => {
		if (weights[node]! < 1e-9) return;
		low = Math.min(low, log);
		high = Math.max(high, log);
	});
	const step = Math.max((high - low) / BINS, 1e-9);
	const histogram = {
		strengths: Float64Array.from({ length: BINS }, (_, bin) => Math.exp(low + (bin + 0.5) * step)),
		weights: new Float64Array(BINS),
		under: new Float64Array(BINS),
	};
	logs.forEach((log, node) => {
		const bin = Math.min(BINS - 1, Math.max(0, Math.floor((log - low) / step)));
		histogram.weights[bin]! += weights[node]!;
		if (strengths[node]! < limitGPerL) histogram.under[bin]! += weights[node]!;
	});
	return histogram;
}

/** Edges between readings, mg/L, and the chance that one band is read as another. */
function readingsOf(kit: Kit): { edges: number[]; misread: (measured: number, shown: number, bands: number) => number } {
	if (kit.kind !== "number") {
		return { edges: bandEdgesMgPerL(kit), misread: (measured, shown, bands) => misreadingChance(kit, measured, shown, bands) };
	}
	const span = Math.log(kit.highestMgPerL / kit.lowestMgPerL);
	const count = Math.ceil(span / (NUMBER_BAND_SD * kit.logSd));
	const edges = Array.from({ length: count + 1 }, (_, k) => kit.lowestMgPerL * Math.exp((span * k) / count));
	const misread = (measured: number, shown: number, bands: number) =>
		(measured === shown ? 1 - kit.misreadShare : 0) + kit.misreadShare / bands;
	return { edges, misread };
}

function worthOf(dilution: Dilution, kit: Kit, { strengths, weights, under }: Histogram): DilutionWorth {
	const factor = dilutionFactor(dilution);
	const { edges, misread } = readingsOf(kit);
	const bands = edges.length + 1;
	const bleachedAbove = kit.highestReliableMgPerL ?? Number.POSITIVE_INFINITY;
	const confusion = Array.from({ length: bands }, (_, measured) =>
		Float64Array.from({ length: bands }, (_, shown) => misread(measured, shown, bands)),
	);
	const shownAll = new Float64Array(bands);
	const shownUnder = new Float64Array(bands);
	let chanceBleached = 0;
	let noise = 0;
	for (let bin = 0; bin < strengths.length; bin++) {
		if (weights[bin]! <= 0) continue;
		const sampleMgPerL = (strengths[bin]! * 1000) / factor;
		const bleached = sampleMgPerL > bleachedAbove;
		if (bleached) chanceBleached += weights[bin]!;
		const shown = bleached ? new Float64Array(bands).fill(1 / bands) : shownChances(sampleMgPerL, kit.logSd, edges, confusion);
		for (let band = 0; band < bands; band++) {
			shownAll[band]! += weights[bin]! * shown[band]!;
			shownUnder[band]! += under[bin]! * shown[band]!;
		}
		noise += weights[bin]! * entropyBit(shown);
	}
	const total = entropyBit(shownAll);
	const shareUnder = under.reduce((sum, part) => sum + part, 0);
	const shownAbove = shownAll.map((chance, band) => Math.max(0, chance - shownUnder[band]!));
	// H(reading, side) - H(side) is what stays unknown of the reading when the side of the limit is known.
	const joint = entropyBit(shownUnder) + entropyBit(shownAbove);
	const side = entropyBit(Float64Array.of(shareUnder, Math.max(0, 1 - shareUnder)));
	return {
		dilution,
		aboutLimitBit: Math.max(0, total + side - joint),
		aboutStrengthBit: Math.max(0, total - noise),
		chanceOffTheTop: shownAll[bands - 1]!,
		chanceBleached,
	};
}

/** Chance of each reading for one true strength in the sample. */
function shownChances(
	sampleMgPerL: number,
	logSd: number,
	edges: readonly number[],
	confusion: readonly Float64Array[],
): Float64Array {
	const shown = new Float64Array(confusion.length);
	let above = 1;
	for (let measured = 0; measured < confusion.length; measured++) {
		const edge = edges[measured];
		const next = edge === undefined ? 0 : upperTail(Math.log(edge / sampleMgPerL) / logSd);
		const chance = above - next;
		above = next;
		if (chance < 1e-12) continue;
		for (let band = 0; band < shown.length; band++) shown[band]! += chance * confusion[measured]![band]!;
	}
	return shown;
}

/** Sum of -p·log2 p. */
function entropyBit(chances: Float64Array): number {
	let sum = 0;
	for (const chance of chances) if (chance > 0) sum -= chance * Math.log2(chance);
	return sum;
}
