import { z } from "zod";
import { code, instant, newCode, utc } from "../edge/fields.js";

export const batchState = z.enum(["in use", "weak", "empty", "discarded"]);
const phKnowledge = z.enum(["not measured", "strip", "meter"]);
const wall = z.enum(["opaque", "opaqueWhite", "translucent", "clearPlastic", "clearGlass", "amberGlass"]);
const exposure = z.enum(["indoors", "shade", "directSun"]);

/** What is told of a batch beside its forecast. */
export const batchCommon = z.strictObject({
	code: z.string(),
	generatorCode: z.string().nullable(),
	areaCode: z.string(),
	keeperCode: z.string().nullable(),
	madeAt: utc,
	volumeL: z.number(),
	madeStrengthGPerL: z.number(),
	madeStrengthLnSd: z.number(),
	saltGPerL: z.number(),
	ph: z.number().nullable(),
	phKnowledge,
	wall,
	exposure,
	litAreaM2: z.number(),
	state: batchState,
});

/** 2000-01-01: an earlier batch is a slip of the pen. */
const EARLIEST_MS = 946_684_800_000;

/** A batch as it is put on file. The ranges are those of the strength model. */
export const newBatch = z
	.strictObject({
		code: newCode,
		generatorCode: code.nullable().default(null),
		areaCode: code,
		keeperCode: code.nullable().default(null),
		madeAt: instant.refine((atMs) => atMs >= EARLIEST_MS, { error: "must not be before the year 2000" }),
		volumeL: z.number().min(0.1).max(1000),
		madeStrengthGPerL: z.number().min(0.5).max(15).meta({ description: "g/L as available chlorine; 0.5 % is 5 g/L" }),
		madeStrengthLnSd: z
			.number()
			.min(0.05)
			.max(1)
			.default(0.25)
			.meta({ description: "Standard deviation of its logarithm: 0.15 to 0.25 for a record of a run" }),
		saltGPerL: z.number().min(0).max(58),
		ph: z
			.number()
			.min(7)
			.max(13)
			.nullable()
			.default(null)
			.meta({ description: "A lower one gives off chlorine gas: read it again, never add acid" }),
		phKnowledge: phKnowledge.default("not measured"),
		wall,
		exposure,
		litAreaM2: z.number().min(0).max(10).default(0),
	})
	.refine((batch) => (batch.ph === null) === (batch.phKnowledge === "not measured"), {
		error: 'must be "strip" or "meter" where a ph is given, and "not measured" where none is',
		path: ["phKnowledge"],
	})
	.meta({ id: "NewBatch" });
