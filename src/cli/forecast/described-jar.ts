import { type Policy, policyFrom } from "../../programme/policy.js";
import type { MonthlyClimate } from "../../science/climate.js";
import { priorForNextBatch } from "../../science/learning.js";
import { rateMultiplierLnSd, type SolutionNote, solutionFromRun } from "../../science/solution.js";
import type { JarFacts } from "../../stock/forecast.js";
import { kitNamed, readingOnScale } from "../../stock/kits.js";
import { Calendars } from "../../stock/places.js";
import { DAY_MS } from "../../time/clock.js";
import { EXPOSURES, type ForecastValues, WALLS } from "./options.js";

/** A jar that stands on no file: what the service would know of it if it did. */
export interface DescribedJar {
	readonly facts: JarFacts & { readonly notes: readonly SolutionNote[] };
	readonly policy: Policy;
	/** Twelve alike months. */
	readonly climate: readonly MonthlyClimate[];
	readonly ageDays: number;
	readonly nowMs: number;
}

/**
 * The jar, its place and the programme's rules from what the options say of them.
 *
 * Days are counted from midnight (UTC) of the day of making. No earlier batch is known, so nothing is learned from one.
 *
 * @throws RangeError where the numbers are right by themselves and impossible together (a place hotter than the model goes)
 */
export function describedJar(values: ForecastValues): DescribedJar {
	const madeAtMs = Date.parse(`${values.madeOn}T00:00:00Z`);
	const { notes, ...solution } = solutionFromRun({
		strengthGPerL: values.strength,
		pH: values.ph,
		pHMeasuredAtC: values.phAtC,
		saltGPerL: values.saltGPerL,
	});
	const prior = priorForNextBatch(
		[],
		{ generatorId: "described", placeId: "described", expectedInitialGPerL: values.strength },
		{
			lnInitialSd: values.strengthLnSd,
			lnRateSd: rateMultiplierLnSd(values.ph === undefined ? "unknown" : (values.phBy ?? "strip")),
		},
	);
	const month: MonthlyClimate = { dayMeanC: values.dayC, nightMeanC: values.nightC, cloudFraction: values.cloud };
	const climate = Array.from({ length: 12 }, () => month);
	const calendar = new Calendars().of({
		areaId: "described",
		latitudeDeg: values.latitude,
		altitudeM: values.altitudeM,
		climate,
		wall: WALLS[values.wall]!,
		exposure: EXPOSURES[values.exposure]!,
		volumeL: values.volumeL,
		litAreaM2: values.litAreaM2,
		madeStrengthGPerL: values.strength,
	});
	const ageDays = values.ageDays ?? Math.max(0, ...values.test.map(({ day }) => day));
	return {
		facts: {
			madeAtMs,
			prior,
			solution,
			notes,
			calendar,
			tests: values.test.map(({ day, reading, sampleMl, madeUpToL }) => ({
				testedAtMs: madeAtMs + day * DAY_MS,
				kit: values.kit,
				sampleMl,
				madeUpToL,
				reading: String(readingOnScale(kitNamed(values.kit), reading)),
			})),
		},
		policy: policyFrom({ usableLimitGPerL: values.limit, toleratedChance: values.tolerance, testKit: values.kit }),
		climate,
		ageDays,
		nowMs: madeAtMs + ageDays * DAY_MS,
	};
}
