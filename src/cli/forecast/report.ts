import { chlorateInStockMgPerL } from "../../science/chlorate.js";
import type { DoseAnswer } from "../../science/dose.js";
import { exposureOver } from "../../science/journey.js";
import { type ReadingInterval, readingInterval } from "../../science/reading.js";
import type { SolutionNote } from "../../science/solution.js";
import { strengthAfterGPerL } from "../../science/strength-curve.js";
import { type Forecast, forecastOf, type StrengthFigures, type Verdict } from "../../stock/forecast.js";
import { kitNamed } from "../../stock/kits.js";
import { DAY_MS } from "../../time/clock.js";
import { localDateOf } from "../../time/local.js";
import { dayOfYear, todaysDose } from "../../water/dose-card.js";
import { type Described, describedBy } from "./described.js";
import type { DescribedJar } from "./described-jar.js";
import type { ForecastOptions } from "./options.js";
import type { DescribedTest } from "./test-text.js";

/** The container that the table tells doses for, L. */
export const DOSED_L = 20;

/** A dose as the table needs it; full consequences stand on a dose card. */
export type ShortDose =
	| { readonly kind: "dose"; readonly volumeMl: number; readonly exactVolumeMl: number; readonly doseMgPerL: number }
	| { readonly kind: "retestFirst" | "refused"; readonly reason: NoDoseReason };

type NoDoseReason = Exclude<DoseAnswer, { kind: "dose" }>["reason"] | "underLimit" | "tooOld";

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
export interface ForecastReport extends Described {
	readonly tests: readonly (ReadingInterval & DescribedTest)[];
	/** Of today. */
	readonly verdict: Verdict;
	readonly retest: { readonly day: number; readonly date: string } | null;
	readonly retestReason: Forecast["retestReason"];
	readonly nextDilution: Forecast["nextDilution"];
	/** Mean over the belief; a batch that outlasts 180 days counts with these. */
	readonly expectedRemainingDays: number;
	/** Readings that were very unlikely. */
	readonly doubtfulTests: number;
	readonly notes: readonly SolutionNote[];
	/** From today on. */
	readonly rows: readonly ForecastRow[];
}

/** @returns the forecast from today on; the figures are those that the service would keep with such a jar */
export function forecastReport(jar: DescribedJar, options: ForecastOptions): ForecastReport {
	const { facts, policy, nowMs, ageDays } = jar;
	const { values } = options;
	const forecast = forecastOf(facts, policy, nowMs);
	const retestDay = forecast.retestAtMs === null ? null : (forecast.retestAtMs - facts.madeAtMs) / DAY_MS;
	return {
		...describedBy(jar, options),
		tests: values.test.map((test, i) => ({
			...test,
			...readingInterval(kitNamed(values.kit), test, Number(facts.tests[i]!.reading)),
		})),
		verdict: forecast.verdict,
		retest: retestDay === null ? null : { day: retestDay, date: dateOf(jar, retestDay) },
		retestReason: forecast.retestReason,
		nextDilution: forecast.nextDilution,
		expectedRemainingDays: forecast.expectedRemainingDays,
		doubtfulTests: forecast.doubtfulTests,
		notes: facts.notes,
		rows: rowDays(ageDays, values.days, retestDay).map((day) => rowOf(jar, values.strength, day, day === retestDay)),
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
	const { now, verdict, contradiction } = forecastOf(facts, policy, atMs);
	const { equivalentDaysAt25C, sunLossGPerL } = exposureOver(facts, facts.madeAtMs, atMs);
	const doseOf = (turbidity: "clear" | "cloudy"): ShortDose =>
		verdict === "weak" || verdict === "too old"
			? { kind: "refused", reason: verdict === "weak" ? "underLimit" : "tooOld" }
			: contradiction
				? { kind: "refused", reason: "readingContradicts" }
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
