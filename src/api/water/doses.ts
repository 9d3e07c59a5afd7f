import { Body, Controller, Param, Query } from "@nestjs/common";
import { z } from "zod";
import { WaterFacts } from "../../duties/water-facts.js";
import type { DoseAnswer } from "../../science/dose.js";
import { Store } from "../../store/store.js";
import { Clock } from "../../time/clock.js";
import { Water } from "../../water/water.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, code, instant, numberBetween, utc, utcOf, utcOrNull } from "../edge/fields.js";
import { idIfNamed } from "../edge/named.js";
import { doseAnswerSchema } from "./dose-view.js";
import { conditionsOf, measuredInWater } from "./measured.js";

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
		into: z.enum(["new water", "same water"]).optional().meta({
			description:
				"Needed while a dose is open in the container: new water closes that one, more bleach into the same is taken where a reading has asked for it",
		}),
		byPersonCode: code.optional().meta({ description: "Who dosed; without it, somebody at the office wrote it down" }),
		...measuredInWater,
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
		leftInJarMl: z.number(),
		state: z.enum(["open", "closed"]).meta({ description: "closed: it was written down late, and its water is gone" }),
		protocol: z.strictObject({ code: z.string(), version: z.int() }).meta({ description: "By which its water is judged" }),
		waitEndsAt: utc.nullable(),
		nextCheckAt: utc.nullable().meta({ description: "When somebody is asked to read it; null: as it was, or not yet known" }),
		readBeforeDrinking: z.boolean().meta({ description: "true: nobody drinks before a reading has found it fit" }),
	})
	.meta({ id: "RecordedDose" });

@Controller()
export class DosesController {
	constructor(
		private readonly store: Store,
		private readonly water: Water,
		private readonly facts: WaterFacts,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "GET",
		path: "/batches/:code/dose",
		access: "look",
		touches: ["batch path.code"],
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
		access: "work",
		touches: ["container body.containerCode", "batch body.batchCode"],
		by: "byPersonCode",
		summary:
			"Keeps that bleach was put into a container of water; its jar holds so much less, and its next check becomes due by itself",
		answer: { status: 201, description: "The dose as it is kept", schema: dose },
	})
	async recordDose(@Body({ schema: newDose }) given: z.output<typeof newDose>): Promise<z.output<typeof dose>> {
		const { dosedAt = this.clock.nowMs(), containerCode, batchCode, waterL, bleachMl, into, byPersonCode, ...measured } = given;
		const byPersonId = (await idIfNamed(this.store, "person", byPersonCode, "/byPersonCode")) ?? null;
		const { row, leftInJarMl, protocol, waitEndsAtMs, nextCheckAtMs, readBeforeDrinking } = await this.facts.recordDose({
			...{ containerCode, batchCode, waterL, bleachMl, into, byPersonId },
			...conditionsOf(measured),
			dosedAtMs: dosedAt,
		});
		return {
			...{ id: row.id, containerCode, batchCode, dosedAt: utcOf(dosedAt), waterL, bleachMl, doseMgPerL: row.doseMgPerL },
			...{ leftInJarMl, state: row.state ?? "closed", protocol: { code: protocol.code, version: protocol.version } },
			waitEndsAt: utcOrNull(waitEndsAtMs),
			nextCheckAt: utcOrNull(nextCheckAtMs ?? null),
			readBeforeDrinking,
		};
	}
}
