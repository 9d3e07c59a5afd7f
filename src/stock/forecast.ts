import type { Policy } from "../programme/policy.js";
import { type Belief, beliefAfter } from "../science/belief.js";
import { mostTellingDilution } from "../science/best-dilution.js";
import { type ExposureCalendar, exposureBetween } from "../science/exposure.js";
import type { Dilution } from "../science/kits.js";
import type { Prior } from "../science/prior.js";
import { type BeliefMoments, momentsOf } from "../science/rate-belief.js";
import { strengthTestOf } from "../science/reading.js";
import { type RetestPlan, retestPlan } from "../science/retest.js";
import type { Solution } from "../science/strength-curve.js";
import type { StrengthTest } from "../science/strength-test.js";
import { strengthAtChanceGPerL, type UnderChance, underChanceOf } from "../science/under-chance.js";
import { DAY_MS } from "../time/clock.js";
import { kitNamed } from "./kits.js";

/** What is believed of a jar's strength at one instant. */
export interface StrengthFigures {
	readonly atMs: number;
	readonly medianGPerL: number;
	/** 5 % of the belief lies below. */
	readonly lowGPerL: number;
	/** 5 % of the belief lies above. */
	readonly highGPerL: number;
	readonly chanceUnderLimit: number;
}

/** usable: dose by it; test first: it may well be too weak; weak: it probably is; too old: the programme uses no older one. */
export type Verdict = "usable" | "test first" | "weak" | "too old";

/** What the facts so far say of a jar, kept with it as plain values. */
export interface Forecast {
	/** Fixed when the jar was first forecast: what its generator and its place had taught by then. */
	readonly prior: Prior;
	readonly solution: Solution;
	readonly notes: readonly string[];
	readonly now: StrengthFigures;
	readonly verdict: Verdict;
	/** None: no test is asked for any more. */
	readonly retestAtMs: number | null;
	/** What will be believed when the retest is due, if nothing else is learned until then. */
	readonly atRetest: StrengthFigures | null;
	readonly retestReason: RetestPlan["reason"] | "none";
	readonly expectedRemainingDays: number;
	/** The dilution that would tell most at that test. */
	readonly nextDilution: Dilution;
	/** Readings that were held to be very unlikely: somebody should look at test, dilution and jar. */
	readonly doubtfulTests: number;
	/** What later jars of the same generator and place learn from; none before the first test. */
	readonly learned: BeliefMoments | null;
}

/** Everything that a forecast is made from; nothing else changes it. */
export interface JarFacts {
	readonly madeAtMs: number;
	readonly prior: Prior;
	readonly solution: Solution;
	readonly notes: readonly string[];
	readonly calendar: ExposureCalendar;
	readonly tests: readonly TestFacts[];
}

/** What of a strength test a forecast is made from. */
export interface TestFacts extends Dilution {
	readonly testedAtMs: number;
	readonly kit: string;
	/** A number on the kit's scale, as text. */
	readonly reading: string;
}

/** @returns the belief after all tests: the same facts give the same to the last bit */
export function jarBelief(facts: JarFacts): Belief {
	return beliefAfter(
		facts.prior,
		{ solution: facts.solution, strengthExponent: 2 },
		facts.tests.map((test) => asStrengthTest(facts, test)),
	);
}

function asStrengthTest(facts: JarFacts, test: JarFacts["tests"][number]): StrengthTest {
	const exposure = exposureBetween(facts.calendar, facts.madeAtMs, test.testedAtMs);
	return strengthTestOf(kitNamed(test.kit), test, Number(test.reading), exposure);
}

/** @returns what is believed of the strength at an instant, not before the making */
export function figuresAt(under: UnderChance, facts: JarFacts, policy: Policy, atMs: number): StrengthFigures {
	const exposure = exposureBetween(facts.calendar, facts.madeAtMs, atMs);
	const highest = 20 * facts.prior.medianInitialGPerL;
	const at = (chance: number) => strengthAtChanceGPerL(under, exposure, chance, highest);
	return {
		atMs,
		medianGPerL: at(0.5),
		lowGPerL: at(0.05),
		highGPerL: at(0.95),
		chanceUnderLimit: under(exposure, policy.usableLimitGPerL),
	};
}

/**
 * The forecast of a jar: how strong and how sure, when to test again and at which dilution, and what it may be used for.
 * @param nowMs an instant not before the making and the last test
 */
export function forecastOf(facts: JarFacts, policy: Policy, nowMs: number): Forecast {
	const belief = jarBelief(facts);
	const under = underChanceOf(belief);
	const lastTestAtMs = facts.tests.reduce((last, { testedAtMs }) => Math.max(last, testedAtMs), Number.NEGATIVE_INFINITY);
	const plan = retestPlan({
		belief,
		calendar: facts.calendar,
		madeAtMs: facts.madeAtMs,
		...(facts.tests.length > 0 ? { lastTestAtMs } : {}),
		nowMs,
		limitGPerL: policy.usableLimitGPerL,
		tolerance: policy.toleratedChance,
		window: { shortestMs: policy.shortestRetestDays * DAY_MS, longestMs: policy.longestRetestDays * DAY_MS },
	});
	const verdict = verdictOf(plan, facts, policy, nowMs);
	const retestAtMs = verdict === "weak" || verdict === "too old" ? null : plan.dueAtMs;
	const testedThen = exposureBetween(facts.calendar, facts.madeAtMs, retestAtMs ?? nowMs);
	const [telling] = mostTellingDilution(belief, testedThen, kitNamed(policy.testKit), policy.dilutions, policy.usableLimitGPerL);
	return {
		prior: facts.prior,
		solution: facts.solution,
		notes: facts.notes,
		now: figuresAt(under, facts, policy, nowMs),
		verdict,
		retestAtMs,
		atRetest: retestAtMs === null ? null : figuresAt(under, facts, policy, retestAtMs),
		retestReason: retestAtMs === null ? "none" : plan.reason,
		expectedRemainingDays: plan.expectedRemainingDays,
		nextDilution: telling?.dilution ?? (policy.dilutions[0] as Dilution),
		doubtfulTests: belief.evidence.filter(({ doubtful }) => doubtful).length,
		learned: facts.tests.length > 0 ? momentsOf(belief) : null,
	};
}

function verdictOf(plan: RetestPlan, facts: JarFacts, policy: Policy, nowMs: number): Verdict {
	if (nowMs - facts.madeAtMs > policy.oldestUseDays * DAY_MS) return "too old";
	if (plan.verdict === "weak") return "weak";
	return plan.verdict === "retestNow" ? "test first" : "usable";
}
