import { chlorateInStockMgPerL } from "../../science/chlorate.js";
import type { DoseAnswer } from "../../science/dose.js";
import { exposureBetween } from "../../science/exposure.js";
import { type ReadingInterval, readingInterval } from "../../science/reading.js";
import type { SolutionNote } from "../../science/solution.js";
import { strengthAfterGPerL } from "../../science/strength-curve.js";
import { type Forecast, forecastOf, type StrengthFigures, type Verdict } from "../../stock/forecast.js";
import { kitNamed } from "../../stock/kits.js";
import { DAY_MS } from "../../time/clock.js";
import { localDateOf } from "../../time/local.js";
import { dayOfYear, todaysDose } from "../../water/dose-card.js";
import type { DescribedJar } from "./described-jar.js";
import type { ForecastOptions, ForecastValues } from "./options.js";

/** The container that the table tells doses for, L. */
export const DOSED_L = 20;

/** A dose as the table needs it; full consequences stand on a dose card. */
export type ShortDose =
	| { readonly kind: "dose"; readonly volumeMl: number; readonly exactVolumeMl: number; readonly doseMgPerL: number }
	| { readonly kind: "retestFirst" | "refused"; readonly reason: string };

/** What is believed on one day, if nothing else is learned until then. */
export interface ForecastRow extends Omit<StrengthFigures, "atMs"> {
	readonly day: number;
	readonly date: string;
	/** Strength if the batch was made as recorded and ages as expected, without any uncertainty and before any test. */
	readonly byRecordGPerL: number;
	/** At the median strength; what was there from the start is counted in. */
	readonly chlorateInJarMgPerL: number;
	readonly verdict: Verdict;
	readonly doseFor20L: { readonly clear: ShortDose; readonly cloudy: ShortDose };
	/** Whether the retest is due at this instant. */
	readonly retestDue: boolean;
}

/** A forecast of a described batch as plain values: what both outputs print. */
export interface ForecastReport {
	/** Options that were left to their defaults. */
	readonly assumed: readonly string[];
	readonly asked: ForecastValues;
	readonly ageDays: number;
	readonly tests: readonly (ReadingInterval & { readonly day: number; readonly reading: string })[];
	readonly verdict: Verdict;
	readonly retest: { readonly day: number; readonly date: string } | null;
	readonly retestReason: Forecast["retestReason"];
	readonly rules: { readonly oldestUseDays: number; readonly shortestRetestDays: number; readonly longestRetestDays: number };
	readonly nextDilution: Forecast["nextDilution"];
	readonly expectedRemainingDays: number;
	readonly doubtfulTests: number;
	readonly rows: readonly ForecastRow[];
	readonly notes: readonly SolutionNote[];
}

/** @returns the forecast from today on; the figures are those that the service would keep with such a jar */
export function forecastReport(jar: DescribedJar, { values, assumed }: ForecastOptions): ForecastReport {
	const { facts, policy, nowMs, ageDays } = jar;
	const forecast = forecastOf(facts, policy, nowMs);
	const dayOf = (atMs: number) => (atMs - facts.madeAtMs) / DAY_MS;
	const retestDay = forecast.retestAtMs === null ? null : dayOf(forecast.retestAtMs);
	return {
		assumed: [...assumed],
		asked: values,
		ageDays,
		tests: values.test.map((test, i) => ({
			day: test.day,
			reading: test.reading,
			...readingInterval(kitNamed(values.kit), test, Number(facts.tests[i]!.reading)),
		})),
		verdict: forecast.verdict,
		retest: retestDay === null ? null : { day: retestDay, date: dateOf(jar, retestDay) },
		retestReason: forecast.retestReason,
		rules: {
			oldestUseDays: policy.oldestUseDays,
			shortestRetestDays: policy.shortestRetestDays,
			longestRetestDays: policy.longestRetestDays,
		},
		nextDilution: forecast.nextDilution,
		expectedRemainingDays: forecast.expectedRemainingDays,
		doubtfulTests: forecast.doubtfulTests,
		rows: rowDays(ageDays, values.days, retestDay).map((day) => rowOf(jar, values.strength, day, day === retestDay)),
		notes: facts.notes,
	};
}

/** Every 1 to 3 days, the last day, and the instant at which the retest is due if it falls within. */
function rowDays(ageDays: number, days: number, retestDay: number | null): number[] {
	const step = days <= 10 ? 1 : days <= 20 ? 2 : 3;
	const ahead = Array.from({ length: Math.floor(days / step) + 1 }, (_, row) => ageDays + row * step);
	const extra = [ageDays + days, ...(retestDay !== null && retestDay < ageDays + days ? [retestDay] : [])];
	return [...new Set([...ahead, ...extra])].sort((a, b) => a - b);
}

function rowOf(jar: DescribedJar, madeGPerL: number, day: number, retestDue: boolean): ForecastRow {
	const { facts, policy, climate } = jar;
	const atMs = instantOf(jar, day);
	const { now, verdict } = forecastOf(facts, policy, atMs);
	const { equivalentDaysAt25C, sunLossGPerL } = exposureBetween(facts.calendar, facts.madeAtMs, atMs);
	const doseOf = (turbidity: "clear" | "cloudy"): ShortDose =>
		verdict === "weak" || verdict === "too old"
			? { kind: "refused", reason: verdict === "weak" ? "underLimit" : "tooOld" }
			: shortDose(todaysDose(now, madeGPerL, { volumeL: DOSED_L, turbidity }, climate, dayOfYear(atMs), policy));
	return {
		day,
		date: dateOf(jar, day),
		medianGPerL: now.medianGPerL,
		lowGPerL: now.lowGPerL,
		highGPerL: now.highGPerL,
		chanceUnderLimit: now.chanceUnderLimit,
		byRecordGPerL: strengthAfterGPerL(madeGPerL, 1, facts.solution, equivalentDaysAt25C, sunLossGPerL),
		chlorateInJarMgPerL: chlorateInStockMgPerL(madeGPerL, Math.max(0.001, now.medianGPerL)),
		verdict,
		doseFor20L: { clear: doseOf("clear"), cloudy: doseOf("cloudy") },
		retestDue,
	};
}

function shortDose(answer: DoseAnswer): ShortDose {
	if (answer.kind !== "dose") return { kind: answer.kind, reason: answer.reason };
	const { kind, volumeMl, exactVolumeMl, doseMgPerL } = answer;
	return { kind, volumeMl, exactVolumeMl, doseMgPerL: doseMgPerL.median };
}

const instantOf = ({ facts }: DescribedJar, day: number): number => Math.round(facts.madeAtMs + day * DAY_MS);
const dateOf = (jar: DescribedJar, day: number): string => localDateOf(instantOf(jar, day), "UTC");
