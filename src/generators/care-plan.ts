import type { GeneratorRules } from "../programme/generator-rules.js";
import { electrodeLifeLeft, type LifeLeft } from "../science/electrode-life.js";
import { DAY_MS } from "../time/clock.js";
import { type EfficiencyChart, efficiencyChart } from "./efficiency.js";
import type { GeneratorFacts } from "./generator-facts.js";
import { expectedAtMs, runRate } from "./run-rate.js";

export type CareItem = "rinse" | "inspect" | "descale" | "order electrode";
/** What came first. */
export type CareReason = "after the run" | "days" | "hours" | "runs" | "efficiency" | "scale seen" | "electrode life";

/** One thing that is to be done for a generator, and when. */
export interface PlannedCare {
	readonly item: CareItem;
	readonly dueAtMs: number;
	readonly reason: CareReason;
	/** The figure that decides and its limit, in the reason's unit: days, hours, runs, or shares of the current. */
	readonly figure: number;
	readonly limit: number;
}

/** What a generator needs next, and the figures behind it. */
export interface CarePlan {
	/** The soonest first; nothing is planned for a generator that has never run. */
	readonly items: readonly PlannedCare[];
	readonly chart: EfficiencyChart;
	readonly life: LifeLeft;
}

type Rules = Pick<GeneratorRules, "care" | "electrodeLifeHours" | "electrodeOrderShare">;

/** @returns the plan, by whichever comes first; instants that depend on further runs are expected from their rate */
export function carePlan(facts: GeneratorFacts, rules: Rules, nowMs: number): CarePlan {
	const chart = efficiencyChart(facts);
	const life = electrodeLifeLeft({
		hoursRun: Math.min(100_000, facts.sinceReplaced.hours),
		lowHours: rules.electrodeLifeHours.low,
		highHours: rules.electrodeLifeHours.high,
	});
	const items = [rinse(facts), inspect(facts, rules, nowMs), descale(facts, chart, rules, nowMs), order(facts, rules, nowMs)];
	const planned = items.flatMap((item) => item ?? []).sort((a, b) => a.dueAtMs - b.dueAtMs);
	return { items: planned, chart, life };
}

const latest = (...instants: readonly (number | null | undefined)[]): number => Math.max(0, ...instants.map((at) => at ?? 0));

/** Brine and bleach that dry on the electrode leave a crust: it is rinsed after each run. Common practice, no source. */
function rinse({ lastDoneAtMs: done, lastEndedAtMs }: GeneratorFacts): PlannedCare | null {
	if (lastEndedAtMs === null || latest(done.rinsed, done.descaled, done["electrode replaced"]) >= lastEndedAtMs) return null;
	return { item: "rinse", dueAtMs: lastEndedAtMs, reason: "after the run", figure: 1, limit: 1 };
}

/** Looked at once in so many days, as long as it runs: one that stands still grows no scale. */
function inspect(facts: GeneratorFacts, { care }: Rules, nowMs: number): PlannedCare | null {
	const { lastDoneAtMs: done, firstRunAtMs, lastEndedAtMs } = facts;
	if (firstRunAtMs === null || lastEndedAtMs === null) return null;
	const fromMs = latest(done.inspected, done["electrode replaced"]) || firstRunAtMs;
	if (lastEndedAtMs < fromMs) return null;
	const dueAtMs = Math.max(fromMs + care.inspectDays * DAY_MS, lastEndedAtMs);
	return { item: "inspect", dueAtMs, reason: "days", figure: daysSince(fromMs, nowMs), limit: care.inspectDays };
}

function descale(facts: GeneratorFacts, chart: EfficiencyChart, { care }: Rules, nowMs: number): PlannedCare | null {
	const { lastDoneAtMs: done, lastSeenAtMs: seen, firstRunAtMs, lastEndedAtMs, sinceDescaled } = facts;
	if (firstRunAtMs === null || lastEndedAtMs === null || sinceDescaled.runs === 0) return null;
	const cleanedAtMs = latest(done.descaled, done["electrode replaced"]);
	const rate = runRate(facts.runs);
	const counted = (reason: "hours" | "runs", figure: number, limit: number, perDay: number | null): PlannedCare[] => {
		const dueAtMs = figure >= limit ? lastEndedAtMs : expectedAtMs(limit - figure, perDay, lastEndedAtMs, nowMs, rate);
		return dueAtMs === null ? [] : [{ item: "descale", dueAtMs, reason, figure, limit }];
	};
	const fromMs = cleanedAtMs || firstRunAtMs;
	const byDays = Math.max(fromMs + care.descaleDays * DAY_MS, firstRunAtMs);
	const ways: PlannedCare[] = [
		...counted("hours", sinceDescaled.hours, care.descaleHours, rate?.hoursPerDay ?? null),
		...counted("runs", sinceDescaled.runs, care.descaleRuns, rate?.runsPerDay ?? null),
		{ item: "descale", dueAtMs: byDays, reason: "days", figure: daysSince(fromMs, nowMs), limit: care.descaleDays },
	];
	if ((seen.scale ?? 0) > cleanedAtMs)
		ways.push({ item: "descale", dueAtMs: seen.scale as number, reason: "scale seen", figure: 1, limit: 1 });
	const fallen = fallenEfficiency(chart);
	if (fallen) ways.push({ item: "descale", dueAtMs: lastEndedAtMs, reason: "efficiency", ...fallen });
	return ways.reduce((first, way) => (way.dueAtMs < first.dueAtMs ? way : first));
}

/** The efficiency fell beyond its control limit: a single run below Shewhart's, or a lasting fall by the cumulative sum. */
function fallenEfficiency({
	care,
	belowLimit,
	limits,
	recentEfficiency,
}: EfficiencyChart): { figure: number; limit: number } | null {
	if (care.kind !== "needsCare" && !belowLimit) return null;
	return { figure: recentEfficiency ?? 0, limit: limits?.lower ?? 0 };
}

/** A new electrode takes long to come: it is asked for when the old one nears the shorter life. */
function order(facts: GeneratorFacts, rules: Rules, nowMs: number): PlannedCare | null {
	const { lastDoneAtMs: done, lastEndedAtMs, sinceReplaced, lastSeenAtMs: seen } = facts;
	const replacedAtMs = latest(done["electrode replaced"]);
	if (lastEndedAtMs === null || latest(done["electrode asked for"]) > replacedAtMs) return null;
	const limit = rules.electrodeLifeHours.low * rules.electrodeOrderShare;
	const common = { item: "order electrode", reason: "electrode life", figure: sinceReplaced.hours, limit } as const;
	if ((seen.damage ?? 0) > replacedAtMs) return { ...common, dueAtMs: seen.damage as number };
	if (sinceReplaced.hours >= limit) return { ...common, dueAtMs: lastEndedAtMs };
	const rate = runRate(facts.runs);
	const dueAtMs = expectedAtMs(limit - sinceReplaced.hours, rate?.hoursPerDay ?? null, lastEndedAtMs, nowMs, rate);
	return dueAtMs === null ? null : { ...common, dueAtMs };
}

const daysSince = (fromMs: number, nowMs: number): number => Math.max(0, (nowMs - fromMs) / DAY_MS);
