/** One way of working that is held against the others in the same world. */
export interface Way {
	/** As it is named on the command line and in files. */
	readonly name: string;
	/** In a few words. */
	readonly about: string;
	/** The programme's rules where they aren't the usual. */
	readonly policy: Readonly<Record<string, unknown>>;
	/** A low reading in a household's water asks for a test of its volunteer's jar. */
	readonly testsAfterLowReading: boolean;
	/** The forecast asks for tests; else a calendar or a reading does. */
	readonly isByForecast?: boolean;
}

/** What holds in every way: households are seen once in four weeks, and work that nobody answered is asked for anew a week later. Common practice, no source. */
export const COMMON_RULES = { ladderAgainDays: 7, water: { checkIntervalDays: 28 } } as const;

/** Nobody waits for so long: no test is asked for by the calendar. */
const NEVER_DAYS = 365;

/** Households whose readings tell that their water takes more are told to give more, and new ones are read every week until three have. */
const WATER = {
	ownDose: { toleratedChance: 0.02, mostTimes: 2, leastReadings: 1 },
	firstReadings: { count: 3, everyDays: 7 },
} as const;

export const WAYS: readonly Way[] = [
	{ name: "days-7", about: "retest every 7 days", policy: { retestEveryDays: 7 }, testsAfterLowReading: false },
	{ name: "days-3", about: "retest every 3 days", policy: { retestEveryDays: 3 }, testsAfterLowReading: false },
	{
		name: "residual",
		about: "retest when a household's residual is low",
		policy: { retestEveryDays: NEVER_DAYS },
		testsAfterLowReading: true,
	},
	{
		name: "program",
		about: "retest when the forecast asks, doses by each household's readings",
		policy: {
			doseAnewShare: 0.95,
			doseAtChance: 0.05,
			shortestRetestDays: 7,
			generators: { testRunsEvery: 2 },
			// A volunteer who falls ill or answers late has bleach for a day longer than the usual rules see to.
			stock: { collectLeadDays: 3 },
			water: WATER,
		},
		testsAfterLowReading: false,
		isByForecast: true,
	},
	{
		name: "sparing",
		about: "the same with sparing rules for tests",
		policy: {
			doseAnewShare: 0.95,
			doseAtChance: 0.05,
			toleratedChance: 0.45,
			shortestRetestDays: 14,
			generators: { testRunsEvery: 6 },
			// What is collected for a shorter while is used up before it has to be tested.
			stock: { supplyDays: 5 },
			water: WATER,
		},
		testsAfterLowReading: false,
		isByForecast: true,
	},
];

/** @returns the rules of a programme that works in a way */
export const policyOf = ({ policy }: Way): object => ({
	...COMMON_RULES,
	...policy,
	water: { ...COMMON_RULES.water, ...(policy["water"] as object | undefined) },
});
