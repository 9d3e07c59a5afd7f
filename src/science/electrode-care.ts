import { type CusumSignal, cusum } from "./change-point.js";
import { mannKendall, medianSlope, type Trend } from "./trend.js";
import { valueWithin } from "./valid-range.js";

/** How the alarm is set; every number may be the programme's own. */
export interface CareSettings {
	/** Runs after the last cleaning that say what this cell does when clean, 4 to 20. Default 6. */
	readonly baselineRuns?: number;
	/** Slack, in standard deviations, 0.1 to 1. Default 0.75: half a sd for a shift of one, and the error of a mean of six runs. */
	readonly slackSd?: number;
	/** Limit, in standard deviations, 2 to 10. Default 5: 1 in 20 unchanged cells alarms within 30 runs, by simulation. */
	readonly limitSd?: number;
	/** Share of the clean cell's efficiency under which batches fail, 0.5 to 0.95. Default 0.75. */
	readonly failingShare?: number;
}

/** What the efficiency of the runs since the last cleaning says about the electrode. */
export type ElectrodeCare =
	| { readonly kind: "tooFewRuns"; readonly moreRuns: number }
	| ({ readonly kind: "steady" } & EfficiencyCourse)
	| ({
			readonly kind: "needsCare";
			/** "failing": the last runs are under the failing share; "changePoint": the sum crossed its limit before that. */
			readonly reason: "failing" | "changePoint";
			readonly signal: CusumSignal | null;
	  } & EfficiencyCourse);

/** The course of the efficiency. */
export interface EfficiencyCourse {
	/** Efficiency of the clean cell, share. */
	readonly cleanEfficiency: number;
	/** Median of the last three runs, share. */
	readonly recentEfficiency: number;
	readonly trend: Trend;
	/** Runs until the efficiency falls to the failing share at the present slope; 0 when it is there; null when it doesn't fall. */
	readonly runsUntilFailing: number | null;
}

/** Spread of ln efficiency that the tests alone give (titration to drop count, 0.07 to 0.08), and its weight in runs. */
const TEST_LN_SD = 0.08;
const TEST_SD_WEIGHT = 4;

const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;
const middle = (values: readonly number[]): number => [...values].sort((a, b) => a - b)[values.length >> 1]!;

/**
 * Whether the electrode needs care, before its batches fail.
 *
 * @param efficiencies current efficiency of each run since the last cleaning, oldest first, each 0.01 to 1.12; leave out runs that
 *   were above Faraday's law
 * @param settings of the alarm
 * @returns "tooFewRuns" until two runs lie beyond the baseline; else the course, and "needsCare" if the lower sum of ln efficiency
 *   crossed its limit or the last runs are under the failing share
 * @throws RangeError outside these ranges
 * Care is chemical only: drained and rinsed before acid, never acid on bleach (chlorine gas), never scraped; the electrode maker's
 * sheet and local rules come first. Scale on the cathode and a worn coating both lower it; only cleaning tells them apart.
 * Source: tabular CUSUM (Page 1954; Montgomery); slack, limit and 0.75 are this project's choices: a cell at 0.75 of clean just
 * reaches 4.5 g/L with a fifth more time.
 */
export function electrodeCare(efficiencies: readonly number[], settings: CareSettings = {}): ElectrodeCare {
	const baselineRuns = Math.round(valueWithin("baseline runs", settings.baselineRuns ?? 6, 4, 20));
	const slackSd = valueWithin("slack in sd", settings.slackSd ?? 0.75, 0.1, 1);
	const limitSd = valueWithin("limit in sd", settings.limitSd ?? 5, 2, 10);
	const failingShare = valueWithin("failing share", settings.failingShare ?? 0.75, 0.5, 0.95);
	const ln = efficiencies.map((share) => Math.log(valueWithin("current efficiency (share of 1)", share, 0.01, 1.12)));
	if (ln.length < baselineRuns + 2) return { kind: "tooFewRuns", moreRuns: baselineRuns + 2 - ln.length };

	const clean = ln.slice(0, baselineRuns);
	const target = mean(clean);
	const squares = clean.reduce((sum, value) => sum + (value - target) ** 2, 0);
	// Six runs tell a spread badly: the tests' own spread counts as four more. The mean's own error widens each distance from it.
	const spread = Math.sqrt((squares + TEST_SD_WEIGHT * TEST_LN_SD ** 2) / (baselineRuns - 1 + TEST_SD_WEIGHT));
	const sd = spread * Math.sqrt(1 + 1 / baselineRuns);
	const later = ln.slice(baselineRuns).map((value) => (value - target) / sd);
	const { signal } = cusum({ values: later, target: 0, slack: slackSd, limit: limitSd });
	const falling = signal?.direction === "down" ? { ...signal, index: signal.index + baselineRuns } : null;

	const recent = middle(ln.slice(-3));
	const failingLn = target + Math.log(failingShare);
	const slope = medianSlope(ln.map((y, x) => ({ x, y })));
	const course: EfficiencyCourse = {
		cleanEfficiency: Math.exp(target),
		recentEfficiency: Math.exp(recent),
		trend: mannKendall(ln),
		runsUntilFailing: recent <= failingLn ? 0 : slope < 0 ? (failingLn - recent) / slope : null,
	};
	if (recent <= failingLn) return { kind: "needsCare", reason: "failing", signal: falling, ...course };
	if (falling) return { kind: "needsCare", reason: "changePoint", signal: falling, ...course };
	return { kind: "steady", ...course };
}
