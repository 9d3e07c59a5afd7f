import type { ReadingCheck } from "../../science/reading-checks.js";

/** What looks odd in how readings were taken, beside what looks odd in the readings themselves. */
export type TimeCheck = "walkedTooFast" | "allAtOnce" | "atNight";
export type FlagCheck = ReadingCheck | TimeCheck;

/** Share of false alarms among the flags that tests raise, on average. */
export const FALSE_SHARE = 0.05;
/** Local hours of the night: from the first on, until before the second. */
export const NIGHT = { fromHour: 22, untilHour: 4 } as const;
/** Fewest odd ones, and least share of all, before anybody is asked about times. Own choices. */
export const TIME_LIMITS = {
	walkedTooFast: { fewest: 3, leastShare: 0.05 },
	allAtOnce: { fewest: 10, leastShare: 0.5 },
	atNight: { fewest: 3, leastShare: 0.1 },
} as const;

const TESTED = `tested: of all volunteers that tests flag, at most ${FALSE_SHARE * 100} in 100 are false alarms on average (Benjamini & Hochberg 1995); each volunteer's six tests share one alarm (smallest p times six)`;
const LIMITED =
	"a limit and no test, so no rate can be stated: readings that were written down on paper and entered together look the same";

/** How each check is made, and how often it is wrong, in words. */
export const METHODS: Readonly<Record<FlagCheck, { readonly method: string; readonly falseAlarms: string }>> = {
	longRun: {
		method: "longest run of one value; exact chance for independent readings with the peers' shares of the values",
		falseAlarms: TESTED,
	},
	tooUniform: {
		method: "one value far more often than among peers; beta-binomial counts with an intraclass correlation of 0.05",
		falseAlarms: TESTED,
	},
	tooFewOrManyRuns: { method: "runs about the median (Wald & Wolfowitz 1940)", falseAlarms: TESTED },
	lastDigits: {
		method: "last digits beside the peers'; chi-squared over the design effect (Pearson 1900; Rao & Scott 1981)",
		falseAlarms: TESTED,
	},
	noLowReading: { method: "not one low reading where peers have them; beta-binomial chance", falseAlarms: TESTED },
	repeatedSequence: {
		method: "longest stretch that comes a second time in the same order; chance at most by Boole's inequality",
		falseAlarms: TESTED,
	},
	walkedTooFast: {
		method:
			"straight line between two households visited one after the other, less 100 m for both positions, over the time between their readings",
		falseAlarms: LIMITED,
	},
	allAtOnce: { method: "readings in different households less than three minutes apart", falseAlarms: LIMITED },
	atNight: { method: `readings from ${NIGHT.fromHour} to ${NIGHT.untilHour} o'clock in the area's zone`, falseAlarms: LIMITED },
};
