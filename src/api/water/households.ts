import { Body, Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { HouseholdFacts } from "../../water/household-facts.js";
import { HouseholdWater } from "../../water/household-water.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, newCode } from "../edge/fields.js";
import { householdWaterSchema, householdWaterView } from "./household-view.js";

const litres = (most: number) =>
	z.number().min(0).max(most).nullable().default(null).meta({ description: "null: the programme's figure" });
const month = z.int().min(1).max(12);

const habits = z
	.strictObject({
		drinkingLPerPersonDay: litres(20),
		foodLPerPersonDay: litres(20),
		hygieneLPerPersonDay: litres(100),
		refillEveryHours: z.number().gt(0).max(168).nullable().default(null),
		season: z
			.strictObject({
				fromMonth: month,
				untilMonth: month.meta({ description: "Included; it may come before the first, over the turn of the year" }),
				source: z.string().trim().min(1).max(100).nullable().default(null),
				turbidity: z.enum(["clear", "cloudy", "very turbid"]),
			})
			.nullable()
			.default(null)
			.meta({ description: "The months in which the water comes from another source" }),
	})
	.meta({ id: "HouseholdHabits" });

const newContainer = z
	.strictObject({
		code: newCode,
		volumeL: z.number().gt(0).max(1000),
		kind: z.enum(["narrow mouth", "wide mouth", "tap", "bucket with cover"]),
		lastCleanedOn: z.iso.date().nullable().default(null).meta({ description: "Local date" }),
	})
	.meta({ id: "NewContainer" });

@Controller()
export class HouseholdWaterController {
	constructor(
		private readonly water: HouseholdWater,
		private readonly facts: HouseholdFacts,
	) {}

	@Endpoint({
		method: "GET",
		path: "/households/:code/water",
		access: "look",
		touches: ["household path.code"],
		summary:
			"Tells a household all of its water: litres to treat, how long they last, bleach a week, today's dose of each container, what comes next",
		description:
			"Doses are those of the household's protocol, from the jar at hand. What the local health authority prescribes comes first.",
		answer: { description: "The household's water as of now", schema: householdWaterSchema },
	})
	async householdWater(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
	): Promise<z.output<typeof householdWaterSchema>> {
		return householdWaterView(await this.water.now(named.code));
	}

	@Endpoint({
		method: "PUT",
		path: "/households/:code/habits",
		access: "work",
		touches: ["household path.code"],
		summary: "Sets how a household uses water; what isn't given is the programme's figure from now on",
		answer: { description: "The household's water as of now", schema: householdWaterSchema },
	})
	async setHabits(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: habits }) { season, ...given }: z.output<typeof habits>,
	): Promise<z.output<typeof householdWaterSchema>> {
		await this.facts.setHabits(named.code, {
			...given,
			seasonFromMonth: season?.fromMonth ?? null,
			seasonUntilMonth: season?.untilMonth ?? null,
			seasonSource: season?.source ?? null,
			seasonTurbidity: season?.turbidity ?? null,
		});
		return householdWaterView(await this.water.now(named.code));
	}

	@Endpoint({
		method: "POST",
		path: "/households/:code/containers",
		access: "work",
		touches: ["household path.code"],
		summary: "Puts a container of a household on file; its reading and its cleaning become due by themselves",
		answer: { status: 201, description: "The household's water as of now", schema: householdWaterSchema },
	})
	async addContainer(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: newContainer }) given: z.output<typeof newContainer>,
	): Promise<z.output<typeof householdWaterSchema>> {
		await this.facts.addContainer(named.code, given);
		return householdWaterView(await this.water.now(named.code));
	}
}
