import { z } from "zod";

/** What a programme has chosen for making bleach, and for the care of what makes it. */
export const generatorRules = z.strictObject({
	/** Strength that a run is to reach, g/L as Cl2: 0.5 %. */
	targetStrengthGPerL: z.number().min(2).max(10).default(5),
	/** A run whose batch is more likely under this than above is run on. Common practice, no source: 0.45 % is still taken. */
	weakUnderGPerL: z.number().min(1).max(10).default(4.5),
	/** Only a test so soon after a run's end tells of the run; a later one tells of storage. Own choice. */
	testWithinHours: z.number().positive().max(168).default(48),
	/** Of a generator's runs, the batch of every so many is tested right after it; the others by what is forecast of them. Further minutes always are. */
	testRunsEvery: z.int().min(1).max(20).default(1),
	/** A batch that needs more minutes than this isn't mended by running on: the cause is looked for. Own choice. */
	mostFurtherMinutes: z.number().positive().max(600).default(90),
	/** Standard deviation of the logarithm of a new batch's strength: where the current was read, and where it wasn't. */
	madeStrengthLnSd: z
		.strictObject({ currentRead: z.number().min(0.12).max(1), currentNotRead: z.number().min(0.12).max(1) })
		.default({ currentRead: 0.2, currentNotRead: 0.35 }),
	/** More than this doesn't flow through a car battery's clamps and leads for an hour, A; own choice. */
	mostCurrentA: z.number().positive().max(500).default(60),
	/** Nor more than so many times what the generator is rated for. Own choice. */
	mostCurrentOfRated: z.number().min(1).max(10).default(2),
	/** How far bleach is carried from a generator that works, km along the ground. Own choice. */
	reachKm: z.number().positive().max(500).default(15),
	/**
	 * Care falls due by whichever comes first. An electrode is looked at weekly; descaled after 10 to 50 and more days of work by the
	 * hardness of the water (makers' pages).
	 */
	care: z
		.strictObject({
			inspectDays: z.number().min(1).max(90),
			descaleHours: z.number().min(1).max(2000),
			descaleRuns: z.number().int().min(1).max(1000),
			descaleDays: z.number().min(1).max(730),
		})
		.default({ inspectDays: 7, descaleHours: 50, descaleRuns: 30, descaleDays: 60 }),
	/** Within these hours nine electrodes in ten wear out; makers' pages: typically 4000 to 8000 h. */
	electrodeLifeHours: z
		.strictObject({ low: z.number().min(100).max(50_000), high: z.number().min(100).max(100_000) })
		.refine(({ low, high }) => low < high, "low must be less than high")
		.default({ low: 4000, high: 8000 }),
	/** From this share of the shorter life on the supervisor is told to order a new one. */
	electrodeOrderShare: z.number().min(0.1).max(1).default(0.8),
	battery: z
		.strictObject({
			/** Its rest voltage is read once in so many days or runs, whichever comes first. Own choice. */
			checkDays: z.number().min(1).max(90),
			checkRuns: z.number().int().min(1).max(100),
			/** A run stops at this share of charge, or the battery suffers. */
			stopShare: z.number().min(0.2).max(0.9),
		})
		.default({ checkDays: 7, checkRuns: 5, stopShare: 0.5 }),
	reagents: z
		.strictObject({
			/** A new lot is asked for so many days before the old one expires. Own choice. */
			renewDaysBefore: z.number().min(0).max(365),
			/** An opened lot isn't trusted for longer than this. Own choice; the maker's sheet comes first. */
			openedDays: z.number().min(1).max(1000),
		})
		.default({ renewDaysBefore: 14, openedDays: 180 }),
	/** Two testers' readings of one jar are compared when they were taken within so many hours. Own choice. */
	compareWithinHours: z.number().positive().max(336).default(48),
});

export type GeneratorRules = z.output<typeof generatorRules>;
