import { z } from "zod";

const threePoints = z.strictObject({ low: z.number(), median: z.number(), high: z.number() });
const hours = z.number().nullable();

const measured = z.strictObject({ volumeMl: z.number(), units: z.int(), fills: z.int(), lastFillMl: z.number() });
const measure = z.discriminatedUnion("kind", [
	z.strictObject({ kind: z.literal("syringe"), capacityMl: z.number(), stepMl: z.number() }),
	z.strictObject({ kind: z.enum(["cap", "spoon"]), volumeMl: z.number() }),
]);

/** A dose with its consequence, or why there is none. */
export const doseAnswerSchema = z
	.discriminatedUnion("kind", [
		z.strictObject({
			kind: z.literal("dose"),
			volumeMl: z.number().meta({ description: "Bleach to measure" }),
			exactVolumeMl: z.number(),
			measured,
			measure,
			plannedDoseMgPerL: z.number(),
			contactMinutes: z.number().meta({ description: "Stir, cover, and wait so long before drinking" }),
			useWithinHours: z.number(),
			doseMgPerL: threePoints,
			residualAfterContactMgPerL: threePoints,
			residualAfter24hMgPerL: threePoints,
			residualAtUseEndMgPerL: threePoints,
			hoursUntilBelowUse: z
				.strictObject({ low: hours, median: hours, high: hours })
				.meta({ description: "null: longer than anything is stored" }),
			ct: z.strictObject({ lowMgMinPerL: z.number(), virus4LogMgMinPerL: z.number() }),
			chlorateMgPerL: z.number().nullable(),
			chlorateGuidelineMgPerL: z.number(),
			warnings: z.array(z.string()),
			assumptions: z.array(z.string()).meta({ description: "What was taken from defaults, not known" }),
		}),
		z.strictObject({
			kind: z.literal("retestFirst"),
			reason: z.string(),
			figures: z.strictObject({
				lowGPerL: z.number(),
				medianGPerL: z.number(),
				highGPerL: z.number(),
				lowestEffectiveMl: z.number().nullable(),
				highestPermittedMl: z.number(),
				spread: z.number().nullable(),
				permittedSpread: z.number(),
			}),
		}),
		z.strictObject({ kind: z.literal("refused"), reason: z.string() }),
	])
	.meta({ id: "DoseAnswer" });
