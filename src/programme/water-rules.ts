import { z } from "zod";

/** What a programme has chosen for water in the household. */
export const waterRules = z.strictObject({
	/** What households treat water for; the rest is drawn untreated. */
	treatedUses: z
		.array(z.enum(["drinking", "food", "hygiene"]))
		.min(1)
		.default(["drinking", "food"]),
	/** Where a household's own habit isn't known: 5.3 L for drinking and food (WHO, Domestic water quantity, from memory); hygiene 2 to 6 L (Sphere). */
	litresPerPersonDay: z
		.strictObject({
			drinking: z.number().positive().max(20),
			food: z.number().nonnegative().max(20),
			hygiene: z.number().nonnegative().max(100),
		})
		.default({ drinking: 3, food: 2.3, hygiene: 4 }),
	/** Standard deviation of what a household really uses, as a share of what is reckoned. Common practice, no source. */
	useRelativeSd: z.number().nonnegative().max(1).default(0.3),
	/** Hours until a container is filled again, where the household's habit isn't known. */
	refillHours: z.number().positive().max(168).default(24),
	/** Least free chlorine where water is used. Source: WHO Guidelines for drinking-water quality. */
	leastAtUseMgPerL: z.number().min(0.1).max(1).default(0.2),
	/** Every household's water is checked once in so many days at the least. Common practice, no source. */
	checkIntervalDays: z.number().min(1).max(90).default(14),
	/**
	 * A household of which fewer readings tell is seen once in so many days, where that is sooner: whoever's water takes more than her
	 * protocol's dose leaves over is found in weeks. None: it waits for its turn like all others. Own choice.
	 */
	firstReadings: z
		.strictObject({ count: z.int().min(1).max(8), everyDays: z.number().min(1).max(90) })
		.nullable()
		.default(null),
	/** Stored water that is only forecast to be low isn't checked again sooner than so many days after a reading that counted. Own choice. */
	shortestCheckDays: z.number().min(0.1).max(90).default(7),
	/**
	 * A household whose own readings have told that its water takes more than its protocol's dose is told to give more: as many quarters
	 * more, up to `mostTimes`, as keep the chance of too little at the end of use at the tolerated one. None: everybody gives the protocol's.
	 */
	ownDose: z
		.strictObject({
			toleratedChance: z.number().min(0.005).max(0.5),
			mostTimes: z.number().min(1).max(2),
			/** From so many readings that counted on. */
			leastReadings: z.int().min(1).max(8),
		})
		.nullable()
		.default(null),
	/** So long after the wait a reading still tells of the dose; later it tells of stored water. Common practice, no source. */
	afterContactMinutes: z.number().positive().max(720).default(120),
	/** From a reading to when what it asks for has been done: the next wait is counted from then. */
	minutesToAct: z.number().nonnegative().max(120).default(10),
	/** When somebody can't do a check that people wait for, it is asked for again after so many hours. Own choice. */
	awaitedAgainHours: z.number().positive().max(72).default(3),
	/** Containers are cleaned once in so many days; sooner where the water is cloudy. Common practice, no source: weekly. */
	cleanEveryDays: z
		.strictObject({ clear: z.number().min(1).max(90), cloudy: z.number().min(1).max(90) })
		.default({ clear: 7, cloudy: 4 }),
	/** So long after a check that found the water unfit its container is cleaned: once that water is out of it. */
	cleanAfterFailureHours: z.number().nonnegative().max(168).default(24),
	/** No household's container is larger than this for each of its persons: a week of 20 L a day, the most of the usual figures (MSF). */
	largestContainerLPerPerson: z.number().positive().max(1000).default(140),
});

export type WaterRules = z.output<typeof waterRules>;

/** @returns days within which a household of which so many readings tell is seen */
export const visitDays = ({ checkIntervalDays, firstReadings }: WaterRules, readings: number): number =>
	firstReadings !== null && readings < firstReadings.count
		? Math.min(firstReadings.everyDays, checkIntervalDays)
		: checkIntervalDays;
