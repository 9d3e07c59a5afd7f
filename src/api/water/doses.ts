import { Body, Controller, Param, Query } from "@nestjs/common";
import { z } from "zod";
import type { DoseAnswer } from "../../science/dose.js";
import { Clock } from "../../time/clock.js";
import { Water } from "../../water/water.js";
import { Endpoint } from "../edge/endpoint.js";
import { code, instant, numberBetween, utc, utcOf } from "../edge/fields.js";
import { doseAnswerSchema } from "./dose-view.js";

const byCode = z.strictObject({ code });

const query = z.strictObject({
	waterL: numberBetween(0.25, 1000).meta({ description: "Water in the container, L" }),
	turbidity: z.enum(["clear", "cloudy", "very turbid"]),
});

const newDose = z
	.strictObject({
		containerCode: code,
		batchCode: code,
		dosedAt: instant.optional().meta({ description: "Without it: now" }),
		waterL: z.number().min(0.25).max(1000),
		bleachMl: z.number().gt(0).max(10_000),
	})
	.meta({ id: "NewDose" });

const dose = z
	.strictObject({
		id: z.string(),
		containerCode: z.string(),
		batchCode: z.string(),
		dosedAt: utc,
		waterL: z.number(),
		bleachMl: z.number(),
		doseMgPerL: z.number().meta({ description: "By the batch's forecast strength" }),
	})
	.meta({ id: "RecordedDose" });

@Controller()
export class DosesController {
	constructor(
		private readonly water: Water,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "GET",
		path: "/batches/:code/dose",
		access: "office",
		summary: "Tells how much of a batch a container of water gets today",
		description:
			"Where no dose is right at both ends of the believed strength the answer is to test first, or why there is none. What the local health authority prescribes comes first.",
		answer: { description: "A dose with its consequence, or why there is none", schema: doseAnswerSchema },
	})
	doseToday(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Query({ schema: query }) asked: z.output<typeof query>,
	): Promise<DoseAnswer> {
		return this.water.dose(named.code, { volumeL: asked.waterL, turbidity: asked.turbidity });
	}

	@Endpoint({
		method: "POST",
		path: "/doses",
		access: "office",
		summary: "Keeps that bleach was put into a container of water",
		answer: { status: 201, description: "The dose as it is kept", schema: dose },
	})
	async recordDose(@Body({ schema: newDose }) given: z.output<typeof newDose>): Promise<z.output<typeof dose>> {
		const { dosedAt = this.clock.nowMs(), ...rest } = given;
		const { id, doseMgPerL } = await this.water.recordDose({ ...rest, dosedAtMs: dosedAt });
		return { id, ...rest, dosedAt: utcOf(dosedAt), doseMgPerL };
	}
}
