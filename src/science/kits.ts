/** What every kit has in common: how far a reading strays from the truth. */
interface KitError {
	/** A few words for people, in English. */
	readonly name: string;
	/** Standard deviation of ln(measured/true), dilution with a 1 mL syringe included, above 0. */
	readonly logSd: number;
	/** Chance, 0 to below 1, that the eye or the count ends in another band than the one measured. */
	readonly misreadShare: number;
	/** Free chlorine in the diluted sample above which the colour may bleach away, mg/L; left out if it never does. */
	readonly highestReliableMgPerL?: number;
}

/** A kit that is read by comparing with colour standards. */
export interface BandKit extends KitError {
	readonly kind: "bands";
	/** The standards as printed, mg/L, ascending; 0 stands for "no colour". */
	readonly standardsMgPerL: readonly number[];
	/** Whether the highest standard also stands for everything darker. */
	readonly openTop: boolean;
	/** Where misreadings go: to the neighbouring bands (default), or evenly over all bands. */
	readonly misreadSpread?: "neighbours" | "everywhere";
}

/** A titration that counts drops until the colour is gone. */
export interface DropKit extends KitError {
	readonly kind: "drops";
	/** What one drop stands for in the diluted sample, mg/L. */
	readonly mgPerLPerDrop: number;
	/** The highest count; it also stands for every higher one. */
	readonly mostDrops: number;
	readonly misreadSpread?: "neighbours" | "everywhere";
}

/** A photometer that shows a number. */
export interface NumberKit extends KitError {
	readonly kind: "number";
	/** Readings below this are "under the range", mg/L, above 0. */
	readonly lowestMgPerL: number;
	/** A reading of this much is "this or more", mg/L. */
	readonly highestMgPerL: number;
}

/** A test kit for free chlorine, as plain values. */
export type Kit = BandKit | DropKit | NumberKit;

/** How a sample was made ready: so many mL of it, made up with water to so many L. Undiluted: as much as the sample itself. */
export interface Dilution {
	/** Stock taken, mL, 0.05 to 1000. */
	readonly sampleMl: number;
	/** Total volume after dilution, L, at least the sample. */
	readonly madeUpToL: number;
}

/**
 * Test errors: Wells et al. 2016, PLoS ONE 11:e0152442 (titration up to 12.4 %, DPD after dilution 2.4 to 19 %, strips 5.2 to
 * 48 %; abstract read), with ±5 % for a 1 mL syringe; the log-sd are our reading of those ranges. Misreading share 0.02: own
 * choice. DPD bleaches above about 8 to 10 mg/L: kit manuals; the lower end is taken.
 */
const DPD_BLEACHES_ABOVE_MG_PER_L = 8;

/** Comparator in whole steps, 0 to "5 or more" mg/L. Standards: common practice, no source. */
export const comparatorWholeSteps: BandKit = Object.freeze({
	kind: "bands",
	name: "colour comparator, whole steps to 5 mg/L",
	standardsMgPerL: Object.freeze([0, 1, 2, 3, 4, 5]),
	openTop: true,
	logSd: 0.15,
	misreadShare: 0.02,
	highestReliableMgPerL: DPD_BLEACHES_ABOVE_MG_PER_L,
});

/** Comparator with standards at 1, 1.5, 2, 3 and 5 mg/L, and the colourless tube. Standards: common practice, no source. */
export const comparatorUnevenSteps: BandKit = Object.freeze({
	kind: "bands",
	name: "colour comparator, 1, 1.5, 2, 3, 5 mg/L",
	standardsMgPerL: Object.freeze([0, 1, 1.5, 2, 3, 5]),
	openTop: true,
	logSd: 0.15,
	misreadShare: 0.02,
	highestReliableMgPerL: DPD_BLEACHES_ABOVE_MG_PER_L,
});

/** Drop count, 0.2 mg/L a drop in the diluted sample (from memory: a 25 mL sample), bleaching above 20 mg/L (from memory). */
export const dropCount: DropKit = Object.freeze({
	kind: "drops",
	name: "drop count, 0.2 mg/L a drop",
	mgPerLPerDrop: 0.2,
	mostDrops: 60,
	logSd: 0.08,
	misreadShare: 0.02,
	highestReliableMgPerL: 20,
});

/** Photometer after dilution, 0.02 to 5 mg/L (from memory). */
export const photometer: NumberKit = Object.freeze({
	kind: "number",
	name: "photometer, 0.02 to 5 mg/L",
	lowestMgPerL: 0.02,
	highestMgPerL: 5,
	logSd: 0.12,
	misreadShare: 0.01,
	highestReliableMgPerL: DPD_BLEACHES_ABOVE_MG_PER_L,
});

/** Dip strip with pads to "10 or more" mg/L. Pads: common practice, no source. */
export const dipStrip: BandKit = Object.freeze({
	kind: "bands",
	name: "dip strip, to 10 mg/L",
	standardsMgPerL: Object.freeze([0, 0.5, 1, 3, 5, 10]),
	openTop: true,
	logSd: 0.3,
	misreadShare: 0.05,
});

/** Every kit, by the name under which a programme names it. */
export const KITS = {
	"comparator 0-5": comparatorWholeSteps,
	"comparator 1-1.5-2-3-5": comparatorUnevenSteps,
	"drop count": dropCount,
	photometer,
	"dip strip": dipStrip,
} as const satisfies Readonly<Record<string, Kit>>;

export type KitName = keyof typeof KITS;

export const kitNames = Object.keys(KITS) as readonly KitName[];
