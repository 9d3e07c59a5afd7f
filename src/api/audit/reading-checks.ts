import { Controller, Query } from "@nestjs/common";
import { z } from "zod";
import { ReadingChecks } from "../../audit/readings/reading-checks.js";
import { Endpoint } from "../edge/endpoint.js";
import { numberBetween } from "../edge/fields.js";
import { period, periodView, where } from "./coverage-schemas.js";

const query = z.strictObject({
	...where,
	fastestKmPerH: numberBetween(3, 120)
		.default(7)
		.meta({ description: "Fastest way between households: 7 is a hard walk; more where volunteers ride" }),
});

const flag = z.strictObject({
	check: z.string(),
	method: z.string(),
	p: z.number().nullable().meta({ description: "Chance that honest readings look so odd or odder; null for a limit" }),
	limit: z.string().nullable().meta({ description: "null for a test" }),
	figures: z.record(z.string(), z.number()),
	falseAlarms: z.string(),
});

const checks = z
	.strictObject({
		period,
		looked: z.int().meta({ description: "Volunteers who reported in the period" }),
		tooFewReadings: z
			.int()
			.meta({ description: "Of those, volunteers whose values can't be tested: fewer than 20 readings, or 60 of peers" }),
		flagged: z.array(
			z.strictObject({
				volunteerCode: z.string(),
				advice: z
					.literal("check")
					.meta({ description: "A visit and a talk are asked for; it is never a finding against anybody" }),
				readings: z.int(),
				flags: z.array(flag),
			}),
		),
	})
	.meta({ id: "ReadingChecks" });

@Controller()
export class ReadingChecksController {
	constructor(private readonly checks: ReadingChecks) {}

	@Endpoint({
		method: "GET",
		path: "/reading-checks",
		access: "audit",
		touches: ["area query.area"],
		summary: "Names volunteers whose readings deserve a second look, and why",
		description:
			"Readings that are too much the same, copied, or taken in times that nobody can have walked. One good source, one careful hand or a bad lot of reagent can explain any of it: visit and ask.",
		answer: {
			description: "Who is to be checked, by code, with method, figures and how often the method is wrong",
			schema: checks,
		},
	})
	async readingChecks(@Query({ schema: query }) { area, ...asked }: z.output<typeof query>) {
		const { period: of, ...rest } = await this.checks.of({ ...asked, areaCode: area });
		return { ...rest, period: periodView(of) };
	}
}
