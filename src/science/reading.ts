import type { ExposureSum } from "./belief-curve.js";
import type { BandKit, Dilution, DropKit, Kit } from "./kits.js";
import type { BandTest, StrengthTest } from "./strength-test.js";
import { valueWithin } from "./valid-range.js";

/** A reading in terms of the stock's strength. */
export interface ReadingInterval {
	/** g/L as Cl2. */
	readonly lowGPerL: number;
	/** g/L as Cl2; Infinity where the reading is "this or more"; the low end itself for a number. */
	readonly highGPerL: number;
	/**
	 * `mayBeBleached`: the sample was diluted so little that a stock of usual strength would bleach the colour; the reading then
	 * says no more than "at least this", and no colour says nothing. `openTop`: it read off the top; dilute more next time.
	 */
	readonly flag?: "mayBeBleached" | "openTop";
}

/** No home-made stock is expected above this, g/L as Cl2. Source: own choice, above the 2 to 7 g/L of small cells. */
export const PLAUSIBLE_HIGHEST_G_PER_L = 8;

/**
 * Chance that a reading of bands or drops has nothing to do with the jar. Source: own choice. So small that it changes no belief
 * that can explain the reading at all; one that can't is left as it was, and the reading is marked.
 */
const GROSS_SHARE = 1e-8;

/**
 * How many times a dilution weakens the stock.
 *
 * @throws RangeError for volumes outside those of `Dilution`
 */
export function dilutionFactor({ sampleMl, madeUpToL }: Dilution): number {
	valueWithin("sample in mL", sampleMl, 0.05, 1000);
	valueWithin("volume made up to in L", madeUpToL, sampleMl / 1000, 1000, "it can't be less than the sample");
	return (madeUpToL * 1000) / sampleMl;
}

/** Whether a stock of usual strength would bleach a kit's colour at a dilution. */
export const mayBleach = (kit: Kit, dilution: Dilution, highestGPerL = PLAUSIBLE_HIGHEST_G_PER_L): boolean =>
	kit.highestReliableMgPerL !== undefined && (highestGPerL * 1000) / dilutionFactor(dilution) > kit.highestReliableMgPerL;

/**
 * Where one band of a kit ends and the next begins, in the diluted sample: midpoints between colour standards, whole drops for
 * a count. Below the first edge is the lowest band; above the last one the highest.
 *
 * @returns ascending, mg/L, one less than there are bands. A kit without open top has one band more than standards: off scale.
 */
export function bandEdgesMgPerL(kit: BandKit | DropKit): number[] {
	if (kit.kind === "drops") return Array.from({ length: kit.mostDrops - 1 }, (_, i) => (i + 1) * kit.mgPerLPerDrop);
	const standards = kit.standardsMgPerL;
	const edges = standards.slice(1).map((standard, i) => (standards[i]! + standard) / 2);
	const top = standards.at(-1)!;
	return kit.openTop ? edges : [...edges, top + (top - (edges.at(-1) ?? 0))];
}

/** Which band, counted from 0, a reading names. Throws RangeError for one that is not on the scale. */
function bandOfReading(kit: BandKit | DropKit, reading: number): number {
	if (kit.kind === "bands") {
		const band = kit.standardsMgPerL.indexOf(reading);
		if (band >= 0) return band;
		throw new RangeError(`${reading} mg/L is not on the scale of "${kit.name}": ${kit.standardsMgPerL.join(", ")} mg/L`);
	}
	// No drop at all says the same as one: there is less than one drop's worth.
	if (Number.isInteger(reading) && reading >= 0 && reading <= kit.mostDrops) return Math.max(0, reading - 1);
	throw new RangeError(`${reading} drops is not on the scale of "${kit.name}": whole drops, 0 to ${kit.mostDrops}`);
}

/**
 * What a reading says of the stock, before any error of the test.
 *
 * @param kit the kit
 * @param dilution how the sample was made ready
 * @param reading what was read: a standard in mg/L, a count of drops, or a number in mg/L
 * @param plausibleHighestGPerL strongest stock that must be reckoned with, g/L
 * @returns interval in g/L as Cl2. A number on the scale gives low = high.
 * @throws RangeError for a reading that is not on the kit's scale, with the scale
 *
 * Source: bands by midpoints, drops as [(n-1)·f, n·f): common practice, no source. Bleaching of DPD: kit manuals.
 */
export function readingInterval(
	kit: Kit,
	dilution: Dilution,
	reading: number,
	plausibleHighestGPerL = PLAUSIBLE_HIGHEST_G_PER_L,
): ReadingInterval {
	const toStock = dilutionFactor(dilution) / 1000;
	const [lowMgPerL, highMgPerL] = sampleInterval(kit, reading);
	const lowGPerL = lowMgPerL * toStock;
	if (mayBleach(kit, dilution, plausibleHighestGPerL)) {
		return { lowGPerL, highGPerL: Number.POSITIVE_INFINITY, flag: "mayBeBleached" };
	}
	if (highMgPerL === Number.POSITIVE_INFINITY) return { lowGPerL, highGPerL: highMgPerL, flag: "openTop" };
	return { lowGPerL, highGPerL: highMgPerL * toStock };
}

function sampleInterval(kit: Kit, reading: number): [number, number] {
	if (kit.kind === "number") {
		if (!(reading >= 0 && reading <= kit.highestMgPerL)) {
			throw new RangeError(`${reading} mg/L is not on the scale of "${kit.name}": 0 to ${kit.highestMgPerL} mg/L`);
		}
		if (reading < kit.lowestMgPerL) return [0, kit.lowestMgPerL];
		return reading === kit.highestMgPerL ? [reading, Number.POSITIVE_INFINITY] : [reading, reading];
	}
	const edges = bandEdgesMgPerL(kit);
	const band = bandOfReading(kit, reading);
	return [edges[band - 1] ?? 0, edges[band] ?? Number.POSITIVE_INFINITY];
}

/**
 * Chance that a kit shows one band when the measured strength lies in another.
 *
 * To neighbours: half of the misreading share to either side, all of it to the only neighbour of an end band. Everywhere: the
 * share is spread evenly over all bands, the true one included. Either way the chances over all bands sum to 1.
 *
 * @param kit the kit
 * @param measured band the measured strength lies in, from 0
 * @param shown band that is read, from 0
 * @param bands how many there are
 */
export function misreadingChance(kit: BandKit | DropKit, measured: number, shown: number, bands: number): number {
	const share = bands > 1 ? kit.misreadShare : 0;
	if (kit.misreadSpread === "everywhere") return (measured === shown ? 1 - share : 0) + share / bands;
	if (measured === shown) return 1 - share;
	if (Math.abs(measured - shown) !== 1) return 0;
	return measured === 0 || measured === bands - 1 ? share : share / 2;
}

/**
 * A reading as the belief takes it, with the kit's error and its misreadings.
 *
 * @param kit the kit
 * @param dilution how the sample was made ready
 * @param reading what was read, as in `readingInterval`
 * @param exposure what had happened to the batch when it was tested
 * @param plausibleHighestGPerL strongest stock that must be reckoned with, g/L
 * @returns plain values for `beliefAfter`; a colourless sample that may be bleached leaves any belief as it was
 * @throws RangeError for a reading that is not on the kit's scale
 */
export function strengthTestOf(
	kit: Kit,
	dilution: Dilution,
	reading: number,
	exposure: ExposureSum,
	plausibleHighestGPerL = PLAUSIBLE_HIGHEST_G_PER_L,
): StrengthTest {
	const { lowGPerL, highGPerL, flag } = readingInterval(kit, dilution, reading, plausibleHighestGPerL);
	const logSd = valueWithin(`log-sd of "${kit.name}"`, kit.logSd, 0.01, 2);
	const toStock = dilutionFactor(dilution) / 1000;
	if (kit.kind === "number") {
		if (lowGPerL !== highGPerL) return stepTest(exposure, logSd, [lowGPerL, highGPerL], [0, 1, 0], 3);
		const grossLnSpan = Math.log(kit.highestMgPerL / kit.lowestMgPerL);
		return { kind: "number", exposure, logSd, measuredGPerL: lowGPerL, grossShare: kit.misreadShare, grossLnSpan };
	}
	const edges = bandEdgesMgPerL(kit).map((edge) => edge * toStock);
	const band = bandOfReading(kit, reading);
	const bands = edges.length + 1;
	const chances = Array.from({ length: bands }, (_, measured) =>
		flag === "mayBeBleached" && measured >= band ? 1 : misreadingChance(kit, measured, band, bands),
	);
	const test = stepTest(exposure, logSd, edges, chances, bands);
	return kit.kind === "drops" && flag === undefined ? { ...test, fineReadingGPerL: (lowGPerL + highGPerL) / 2 } : test;
}

/** A band test with the edges at which nothing changes left out: they would cost time and say nothing. */
function stepTest(
	exposure: ExposureSum,
	logSd: number,
	edges: readonly number[],
	chances: readonly number[],
	bands: number,
): BandTest {
	const steps = edges
		.map((edge, k) => ({ edge, before: chances[k]!, after: chances[k + 1]! }))
		.filter(({ edge, before, after }) => before !== after && edge > 0 && edge < Number.POSITIVE_INFINITY);
	const bottom = edges[0] === 0 ? chances[1]! : chances[0]!;
	return {
		kind: "band",
		exposure,
		logSd,
		edgesGPerL: steps.map(({ edge }) => edge),
		chances: [bottom, ...steps.map(({ after }) => after)],
		// A reading that says nothing isn't an error either.
		...(steps.length > 0 && { gross: { share: GROSS_SHARE, bands } }),
	};
}
