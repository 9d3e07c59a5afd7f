import { z } from "zod";
import { code, instant, newStem, utc } from "../edge/fields.js";

export const powerSource = z.enum(["battery", "running engine", "solar panel", "mains"]);

const product = z
	.strictObject({
		code: newStem.optional().meta({ description: "Of the batch; without it, made of the generator's code and the day" }),
		keeperCode: code.nullable().default(null).meta({ description: "Without it: it stands at the generator's production point" }),
		wall: z.enum(["opaque", "opaqueWhite", "translucent", "clearPlastic", "clearGlass", "amberGlass"]).default("opaque"),
		exposure: z.enum(["indoors", "shade", "directSun"]).default("indoors"),
		litAreaM2: z.number().min(0).max(10).default(0),
		ph: z.number().min(7).max(13).nullable().default(null),
		phKnowledge: z.enum(["not measured", "strip", "meter"]).default("not measured"),
	})
	.refine((batch) => (batch.ph === null) === (batch.phKnowledge === "not measured"), {
		error: 'must be "strip" or "meter" where a ph is given, and "not measured" where none is',
		path: ["phKnowledge"],
	})
	.nullable()
	.meta({ description: "What it filled; null: nothing worth keeping. Without it: an opaque jar indoors" });

export type GivenProduct = z.output<typeof product>;

const ended = {
	currentA: z
		.number()
		.gt(0)
		.max(500)
		.nullable()
		.optional()
		.meta({ description: "Mean current, A; left out where nobody read it" }),
	gasSeen: z.boolean().nullable().optional().meta({ description: "Bubbles at the electrode; left out where nobody looked" }),
	rinsed: z.boolean().default(false).meta({ description: "Vessel and electrode were rinsed after it" }),
	product: product.optional(),
};

/** A run as it is put on file; what its generator and the programme's rules allow is checked against them. */
export const newRun = z
	.strictObject({
		code: newStem.optional().meta({ description: "Its line in the log; without it, made of the generator's code and the start" }),
		operatorCode: code.optional().meta({ description: "Without it: the generator's operator" }),
		startedAt: instant,
		endedAt: instant.optional().meta({ description: "Without it: it is still going on" }),
		saltG: z.number().min(0).max(350_000).meta({ description: "Measured into it, g" }),
		waterL: z.number().min(0).max(2000).meta({ description: "Measured into it, L" }),
		powerSource,
		batteryCode: code.optional(),
		restVoltageV: z
			.number()
			.min(-1000)
			.max(1000)
			.optional()
			.meta({ description: "At the battery's posts before the run, 0 to 20 V" }),
		furtherOfRun: code.optional().meta({ description: "Code of the run whose weak batch these further minutes mend" }),
		...ended,
	})
	.meta({ id: "NewRun" });

export const runEnd = z
	.strictObject({ endedAt: instant.optional().meta({ description: "Without it: now" }), ...ended })
	.meta({ id: "RunEnd" });

export const keptRun = z
	.strictObject({
		code: z.string(),
		generatorCode: z.string(),
		startedAt: utc,
		endedAt: utc.nullable(),
		batchCode: z.string().nullable().meta({ description: "The batch that it filled; null: none, or it is still going on" }),
	})
	.meta({ id: "KeptRun" });
