import { z } from "zod";
import { indicators } from "../../audit/coverage/list.js";
import type { Period } from "../../audit/coverage/period.js";
import { localDate } from "../assignment/schemas.js";
import { code, utc, utcOf } from "../edge/fields.js";

const codes = indicators.map((indicator) => indicator.code) as [string, ...string[]];

/** Code of an indicator; that there is none of the name is told by the service, with those there are. */
export const indicatorCode = z
	.string()
	.min(1)
	.max(64)
	.meta({ description: `One of ${codes.join(", ")}` });

export const where = {
	area: code.meta({ description: "Code of an area: what is below it is counted too" }),
	from: localDate.meta({ description: "First day, in the area's zone" }),
	to: localDate.meta({ description: "Last day; a period that isn't over is counted up to now, and says so" }),
};

const share = z.number().min(0).max(1).nullable();

export const figure = z
	.strictObject({
		indicator: z.string(),
		numerator: z.int(),
		denominator: z.int(),
		missing: z.int().meta({ description: "Of which nothing can be said; in neither of the two" }),
		share: share.meta({ description: "null: nothing to count" }),
		low: share.meta({ description: "Wilson interval, 95 %" }),
		high: share,
	})
	.meta({ id: "CoverageFigure" });

export const definition = z
	.strictObject({
		code: z.string(),
		name: z.string(),
		wanted: z.enum(["more", "less"]),
		counted: z.string().meta({ description: "What is counted" }),
		words: z.string().meta({ description: "Numerator and denominator, with the programme's own figures" }),
		missing: z.string().meta({ description: "Of what nothing can be said, and why" }),
		source: z.string(),
	})
	.meta({ id: "CoverageDefinition" });

export const period = z
	.strictObject({
		from: localDate,
		to: localDate,
		timeZone: z.string(),
		fromAt: utc,
		untilAt: utc.meta({ description: "Not itself" }),
		isPartial: z.boolean().meta({ description: "true: the period isn't over, it is counted up to `untilAt`" }),
	})
	.meta({ id: "CoveragePeriod" });

export function periodView({ fromMs, untilMs, ...of }: Period): z.output<typeof period> {
	return { ...of, fromAt: utcOf(fromMs), untilAt: utcOf(untilMs) };
}
