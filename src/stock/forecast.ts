import type { Policy } from "../programme/policy.js";
import { type Belief, beliefAfter } from "../science/belief.js";
import { mostTellingDilution } from "../science/best-dilution.js";
import { exposureOver, type Journey } from "../science/journey.js";
import type { Dilution } from "../science/kits.js";
import { type StrengthAhead, strengthMean } from "../science/outlook.js";
import type { Prior } from "../science/prior.js";
import { type BeliefMoments, momentsOf } from "../science/rate-belief.js";
import { readingInterval, strengthTestOf } from "../science/reading.js";
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

/** A reading that was hardly possible by what was believed before it, and nothing has been read since that fits. */
export interface Contradiction {
	readonly testedAtMs: number;
	readonly readLowGPerL: number;
	/** null: this or more. */
	readonly readHighGPerL: number | null;
	/** 5 % of what was believed just before lay below... */
	readonly believedLowGPerL: number;
	/** ...and 5 % above. */
	readonly believedHighGPerL: number;
	/** Such readings in a row, this one included. */
	readonly inARow: number;
}

/** Days ahead of now for which a strength is kept; between them it runs smoothly. */
const OUTLOOK_DAYS = [0, 1, 3, 6, 10, 16, 25, 40, 60];

/** Kept with every jar: five digits are more than anybody knows of it. */
const digits5 = (value: number): number => Number(value.toPrecision(5));

function outlookOf(belief: Belief, facts: JarFacts, nowMs: number): StrengthAhead[] {
	return OUTLOOK_DAYS.map((days) => {
		const atMs = Math.max(nowMs, facts.madeAtMs) + days * DAY_MS;
		const { meanGPerL, sdGPerL } = strengthMean(belief, exposureOver(facts, facts.madeAtMs, atMs));
		return { atMs, meanGPerL: digits5(Math.max(1e-6, meanGPerL)), sdGPerL: digits5(sdGPerL) };
	});
}

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
	readonly retestReason: RetestPlan["reason"] | "contradicted" | "calendar" | "none";
	readonly expectedRemainingDays: number;
	/** The dilution that would tell most at that test. */
	readonly nextDilution: Dilution;
	/** Readings that were held to be very unlikely: somebody should look at test, dilution and jar. */
	readonly doubtfulTests: number;
	/** The jar isn't dosed by while there is one. */
	readonly contradiction: Contradiction | null;
	/** What later jars of the same generator and place learn from; none before the first test. */
	readonly learned: BeliefMoments | null;
	/** What the strength will be in the days to come, if nothing else is learned: what stock is reckoned with. Old forecasts have none. */
	readonly outlook?: readonly StrengthAhead[];
}

/** Everything that a forecast is made from; nothing else changes it. */
export interface JarFacts extends Journey {
	readonly madeAtMs: number;
	readonly prior: Prior;
	readonly solution: Solution;
	readonly notes: readonly string[];
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
	const tests = facts.tests.map((test) => asStrengthTest(facts, test));
	return beliefKept(facts.prior, facts.solution, tests);
}

/** A jar is dosed from many times between two facts about it, and what was poured from one jar into several is believed alike. */
const KEPT = 128;
const kept = new Map<string, Belief>();

function beliefKept(prior: Prior, solution: Solution, tests: readonly StrengthTest[]): Belief {
	const key = JSON.stringify([prior, solution, tests], (_, value) =>
		typeof value === "number" && !Number.isFinite(value) ? String(value) : value,
	);
	const belief = kept.get(key) ?? beliefAfter(prior, { solution, strengthExponent: 2 }, tests);
	// The one that was asked for longest ago goes first.
	kept.delete(key);
	kept.set(key, belief);
	if (kept.size > KEPT) kept.delete(kept.keys().next().value as string);
	return belief;
}

/** A batch's making may have been put right to after its test, which then tells of the strength as made. */
const testedAtMsOf = (facts: JarFacts, test: TestFacts): number => Math.max(facts.madeAtMs, test.testedAtMs);

function asStrengthTest(facts: JarFacts, test: TestFacts): StrengthTest {
	const exposure = exposureOver(facts, facts.madeAtMs, testedAtMsOf(facts, test));
	return strengthTestOf(kitNamed(test.kit), test, Number(test.reading), exposure);
}

/** @returns what is believed of the strength at an instant, not before the making */
export function figuresAt(under: UnderChance, facts: JarFacts, policy: Policy, atMs: number): StrengthFigures {
	const exposure = exposureOver(facts, facts.madeAtMs, atMs);
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
 * @param askedAtMs an instant; before the making or the last test (a clock was put back) the latest of these is taken
 */
export function forecastOf(facts: JarFacts, policy: Policy, askedAtMs: number): Forecast {
	const belief = jarBelief(facts);
	const under = underChanceOf(belief);
	const lastTestAtMs = facts.tests.reduce((last, test) => Math.max(last, testedAtMsOf(facts, test)), facts.madeAtMs);
	const nowMs = Math.max(askedAtMs, lastTestAtMs);
	const plan = retestPlan({
		belief,
		calendar: facts.calendar,
		...(facts.earlier ? { earlier: facts.earlier } : {}),
		madeAtMs: facts.madeAtMs,
		...(facts.tests.length > 0 ? { lastTestAtMs } : {}),
		nowMs,
		limitGPerL: policy.usableLimitGPerL,
		tolerance: policy.toleratedChance,
		window: { shortestMs: policy.shortestRetestDays * DAY_MS, longestMs: policy.longestRetestDays * DAY_MS },
	});
	const contradiction = policy.retestEveryDays === null ? contradictionOf(facts, belief, policy) : null;
	const { verdict, retestAtMs, retestReason } =
		policy.retestEveryDays === null
			? judged(plan, contradiction, facts, policy, nowMs)
			: byCalendar(
					under(exposureOver(facts, facts.madeAtMs, lastTestAtMs), policy.usableLimitGPerL),
					lastTestAtMs,
					facts,
					policy,
					nowMs,
				);
	const testedThen = exposureOver(facts, facts.madeAtMs, retestAtMs ?? nowMs);
	const [telling] = mostTellingDilution(belief, testedThen, kitNamed(policy.testKit), policy.dilutions, policy.usableLimitGPerL);
	return {
		prior: facts.prior,
		solution: facts.solution,
		notes: facts.notes,
		now: figuresAt(under, facts, policy, nowMs),
		verdict,
		retestAtMs,
		atRetest: retestAtMs === null ? null : figuresAt(under, facts, policy, retestAtMs),
		retestReason,
		expectedRemainingDays: plan.expectedRemainingDays,
		nextDilution: telling?.dilution ?? (policy.dilutions[0] as Dilution),
		doubtfulTests: belief.evidence.filter(({ doubtful }) => doubtful).length,
		contradiction,
		learned: facts.tests.length > 0 ? momentsOf(belief) : null,
		outlook: outlookOf(belief, facts, nowMs),
	};
}

type Judged = Pick<Forecast, "verdict" | "retestAtMs" | "retestReason">;

/** Facts that contradict each other come before any figure made of them: one more test at once, then somebody must look. */
function judged(plan: RetestPlan, contradiction: Contradiction | null, facts: JarFacts, policy: Policy, nowMs: number): Judged {
	const ended = { retestAtMs: null, retestReason: "none" } as const;
	if (nowMs - facts.madeAtMs > policy.oldestUseDays * DAY_MS) return { verdict: "too old", ...ended };
	if (contradiction?.inARow === 1) return { verdict: "test first", retestAtMs: nowMs, retestReason: "contradicted" };
	if (contradiction) return { verdict: "test first", ...ended };
	if (plan.verdict === "weak") return { verdict: "weak", ...ended };
	const verdict = plan.verdict === "retestNow" ? "test first" : "usable";
	return { verdict, retestAtMs: plan.dueAtMs, retestReason: plan.reason };
}

/** By a fixed calendar nothing counts but the last test: what has been lost since then is found by the next one. */
function byCalendar(chanceUnderAtTest: number, lastTestAtMs: number, facts: JarFacts, policy: Policy, nowMs: number): Judged {
	const ended = { retestAtMs: null, retestReason: "none" } as const;
	if (nowMs - facts.madeAtMs > policy.oldestUseDays * DAY_MS) return { verdict: "too old", ...ended };
	if (facts.tests.length > 0 && chanceUnderAtTest > 0.5) return { verdict: "weak", ...ended };
	const dueAtMs = lastTestAtMs + (policy.retestEveryDays ?? 0) * DAY_MS;
	return { verdict: "usable", retestAtMs: Math.max(nowMs, dueAtMs), retestReason: "calendar" };
}

/** @returns the last reading with what was believed before it, where they contradict each other */
function contradictionOf(facts: JarFacts, belief: Belief, policy: Policy): Contradiction | null {
	const inARow = belief.evidence.length - 1 - belief.evidence.findLastIndex(({ contradicts }) => !contradicts);
	if (inARow === 0) return null;
	const last = facts.tests.reduce((latest, test) => (test.testedAtMs >= latest.testedAtMs ? test : latest));
	const before = { ...facts, tests: facts.tests.filter((test) => test !== last) };
	const testedAtMs = testedAtMsOf(facts, last);
	const believed = figuresAt(underChanceOf(jarBelief(before)), before, policy, testedAtMs);
	const { lowGPerL, highGPerL } = readingInterval(kitNamed(last.kit), last, Number(last.reading));
	return {
		testedAtMs,
		readLowGPerL: lowGPerL,
		readHighGPerL: Number.isFinite(highGPerL) ? highGPerL : null,
		believedLowGPerL: believed.lowGPerL,
		believedHighGPerL: believed.highGPerL,
		inARow,
	};
}
