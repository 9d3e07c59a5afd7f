import { z } from "zod";
import type { Forecast, StrengthFigures } from "../../stock/forecast.js";
import { utc, utcOf, utcOrNull } from "../edge/fields.js";

const figures = z
	.strictObject({
		at: utc,
		medianGPerL: z.number(),
		lowGPerL: z.number().meta({ description: "5 % of the belief lies below" }),
		highGPerL: z.number().meta({ description: "5 % of the belief lies above" }),
		chanceUnderLimit: z.number().meta({ description: "Chance of being under the programme's usable limit, 0 to 1" }),
	})
	.meta({ id: "StrengthFigures" });

const contradiction = z
	.strictObject({
		testedAt: utc,
		readLowGPerL: z.number(),
		readHighGPerL: z.number().nullable().meta({ description: "null: this or more" }),
		believedLowGPerL: z.number().meta({ description: "5 % of what was believed just before lay below" }),
		believedHighGPerL: z.number(),
		inARow: z.int().meta({ description: "1: one more test is asked for; more: a supervisor must look" }),
	})
	.meta({ id: "Contradiction", description: "The last reading was hardly possible by what was believed before it" });

/** What the facts say of a jar, for whoever doses by it or plans its tests. */
export const forecastSchema = z
	.strictObject({
		now: figures,
		verdict: z.enum(["usable", "test first", "weak", "too old"]),
		retestAt: utc.nullable().meta({ description: "null: no test is asked for any more" }),
		retestReason: z.string(),
		atRetest: figures.nullable(),
		expectedRemainingDays: z.number().nullable(),
		nextDilution: z.strictObject({ sampleMl: z.number(), madeUpToL: z.number() }),
		doubtfulTests: z.int().meta({ description: "Readings that are very unlikely: look at test, dilution and jar" }),
		contradiction: contradiction.nullable().meta({ description: "The jar isn't dosed by while there is one" }),
		notes: z.array(z.string()),
	})
	.meta({ id: "Forecast" });

export const figuresSchema = figures;

export function figuresView({
	atMs,
	medianGPerL,
	lowGPerL,
	highGPerL,
	chanceUnderLimit,
}: StrengthFigures): z.output<typeof figures> {
	return { at: utcOf(atMs), medianGPerL, lowGPerL, highGPerL, chanceUnderLimit };
}

export function forecastView(forecast: Forecast): z.output<typeof forecastSchema> {
	const { now, verdict, retestAtMs, retestReason, atRetest, expectedRemainingDays, nextDilution, doubtfulTests, notes } =
		forecast;
	return {
		now: figuresView(now),
		verdict,
		retestAt: utcOrNull(retestAtMs),
		retestReason,
		atRetest: atRetest && figuresView(atRetest),
		// JSON has no infinity: a jar that outlasts every horizon has no number of days.
		expectedRemainingDays: Number.isFinite(expectedRemainingDays) ? expectedRemainingDays : null,
		nextDilution: { sampleMl: nextDilution.sampleMl, madeUpToL: nextDilution.madeUpToL },
		doubtfulTests,
		contradiction: shownContradiction(forecast.contradiction),
		notes: [...notes],
	};
}

/** A forecast that was kept by an earlier release has none. */
function shownContradiction(kept: Forecast["contradiction"] | undefined): z.output<typeof contradiction> | null {
	if (!kept) return null;
	const { testedAtMs, ...figures } = kept;
	return { testedAt: utcOf(testedAtMs), ...figures };
}
