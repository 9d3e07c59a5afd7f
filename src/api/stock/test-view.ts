import { z } from "zod";
import type { StrengthTestRow } from "../../stock/rows.js";
import { utc, utcOf } from "../edge/fields.js";

/** One measurement of a jar's strength. */
export const testSchema = z
	.strictObject({
		id: z.string(),
		testedAt: utc,
		recordedAt: utc,
		kit: z.string(),
		sampleMl: z.number(),
		madeUpToL: z.number(),
		reading: z.string(),
		lowGPerL: z.number(),
		highGPerL: z.number().nullable().meta({ description: "null: this or more" }),
		flags: z.array(z.string()),
	})
	.meta({ id: "StrengthTest" });

export function testView(row: StrengthTestRow): z.output<typeof testSchema> {
	const { id, testedAtMs, recordedAtMs, kit, sampleMl, madeUpToL, reading, lowGPerL, highGPerL, flags } = row;
	return {
		id,
		testedAt: utcOf(testedAtMs),
		recordedAt: utcOf(recordedAtMs),
		kit,
		sampleMl,
		madeUpToL,
		reading,
		lowGPerL,
		highGPerL,
		flags: [...flags],
	};
}
