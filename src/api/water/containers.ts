import { Body, Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { WaterFacts } from "../../duties/water-facts.js";
import { Store } from "../../store/store.js";
import { Clock } from "../../time/clock.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, code, instant, utc, utcOf } from "../edge/fields.js";
import { idIfNamed } from "../edge/named.js";

const newCleaning = z
	.strictObject({
		cleanedAt: instant.optional().meta({ description: "Without it: now" }),
		cleanerCode: code.optional().meta({ description: "Code of a person" }),
	})
	.meta({ id: "NewCleaning" });

const cleaning = z
	.strictObject({ id: z.string(), containerCode: z.string(), cleanedAt: utc, nextCleaningAt: utc })
	.meta({ id: "RecordedCleaning" });

const newEmptying = z
	.strictObject({ emptiedAt: instant.optional().meta({ description: "Without it: now" }) })
	.meta({ id: "NewEmptying" });

const emptied = z
	.strictObject({ containerCode: z.string(), doseClosed: z.boolean().meta({ description: "false: no dose was open in it" }) })
	.meta({ id: "EmptiedContainer" });

@Controller()
export class ContainersController {
	constructor(
		private readonly store: Store,
		private readonly facts: WaterFacts,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "POST",
		path: "/containers/:code/cleanings",
		access: "work",
		touches: ["container path.code"],
		by: "cleanerCode",
		summary: "Keeps that a container was cleaned; a task that asks for it isn't needed any more",
		answer: { status: 201, description: "The cleaning, and when the next one is due", schema: cleaning },
	})
	async recordCleaning(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: newCleaning }) given: z.output<typeof newCleaning>,
	): Promise<z.output<typeof cleaning>> {
		const cleanedAtMs = given.cleanedAt ?? this.clock.nowMs();
		const cleanerId = (await idIfNamed(this.store, "person", given.cleanerCode, "/cleanerCode")) ?? null;
		const { row, nextDueAtMs } = await this.facts.recordCleaning(named.code, cleanedAtMs, cleanerId);
		return { id: row.id, containerCode: named.code, cleanedAt: utcOf(cleanedAtMs), nextCleaningAt: utcOf(nextDueAtMs) };
	}

	@Endpoint({
		method: "POST",
		path: "/containers/:code/emptied",
		access: "work",
		touches: ["container path.code"],
		summary: "Keeps that the water is out of a container: its dose is closed, and nothing is asked of it any more",
		answer: { description: "Whether a dose was open in it", schema: emptied },
	})
	async recordEmptied(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: newEmptying }) given: z.output<typeof newEmptying>,
	): Promise<z.output<typeof emptied>> {
		const doseClosed = await this.facts.recordEmptied(named.code, given.emptiedAt ?? this.clock.nowMs());
		return { containerCode: named.code, doseClosed };
	}
}
