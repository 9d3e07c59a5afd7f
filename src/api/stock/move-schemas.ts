import { z } from "zod";
import { code, instant, newCode } from "../edge/fields.js";

const told = {
	at: instant.optional().meta({ description: "Without it: now" }),
	byCode: code.optional().meta({ description: "Code of the person who did it; without it: somebody at the office" }),
	note: z.string().trim().min(1).max(200).optional().meta({ description: "What it was for, in a few words" }),
};

const volumeMl = z.number().gt(0).max(1_000_000).meta({ description: "mL; the smallest is 0.001" });
const exposure = z.enum(["indoors", "shade", "directSun"]).optional().meta({ description: "Without it: as before" });

const place = {
	keeperCode: code.optional(),
	householdCode: code.optional(),
	productionPoint: code.optional().meta({ description: "Code of the generator that made it" }),
};

const ONE_PLACE = "must have exactly one of keeperCode, householdCode and productionPoint";
const isOnePlace = (to: { keeperCode?: unknown; householdCode?: unknown; productionPoint?: unknown }): boolean =>
	[to.keeperCode, to.householdCode, to.productionPoint].filter((given) => given !== undefined).length === 1;

/** A move of bleach as it comes in. */
export const newMove = z
	.discriminatedUnion("kind", [
		z.strictObject({ kind: z.enum(["used", "spilt"]), volumeMl, ...told }),
		z.strictObject({
			kind: z.literal("counted"),
			volumeMl: z.number().min(0).max(1_000_000).meta({ description: "What is in the jar, measured, mL" }),
			...told,
		}),
		z.strictObject({ kind: z.literal("discarded"), ...told }),
		z.strictObject({
			kind: z.literal("handed over"),
			to: z.strictObject({ ...place, exposure }).refine(isOnePlace, { error: ONE_PLACE }),
			...told,
		}),
		z.strictObject({
			kind: z.literal("drawn off"),
			volumeMl,
			into: z
				.strictObject({
					code: newCode.meta({ description: "A new jar's, or an empty jar's" }),
					...place,
					exposure,
					wall: z.enum(["opaque", "opaqueWhite", "translucent", "clearPlastic", "clearGlass", "amberGlass"]).optional(),
					litAreaM2: z.number().min(0).max(10).optional(),
				})
				.refine(isOnePlace, { error: ONE_PLACE }),
			...told,
		}),
	])
	.meta({ id: "NewStockMove" });
