import { Controller, Query } from "@nestjs/common";
import { z } from "zod";
import { Coverage } from "../../audit/coverage/coverage.js";
import { Endpoint } from "../edge/endpoint.js";
import { definition, figure, indicatorCode, period, periodView, where } from "./coverage-schemas.js";

const indicator = indicatorCode.optional().meta({ description: "Left out: all" });

const query = z.strictObject({
	...where,
	indicator,
	below: z.enum(["none", "next", "all"]).default("next").meta({ description: "Which areas below it are told by themselves too" }),
});
const monthsQuery = z.strictObject({ ...where, indicator });

const report = z
	.strictObject({
		area: z.strictObject({ code: z.string(), name: z.string() }),
		period,
		definitions: z.array(definition),
		figures: z.array(figure),
		areas: z
			.array(
				z.strictObject({
					code: z.string(),
					name: z.string(),
					parentCode: z.string().nullable(),
					depth: z.int(),
					figures: z.array(figure),
				}),
			)
			.meta({ description: "Those below the area, each with all below itself, each before those below it, sisters by code" }),
	})
	.meta({ id: "CoverageReport" });

const months = z.strictObject({ months: z.array(z.strictObject({ period, figures: z.array(figure) })) });
const definitions = z.strictObject({ definitions: z.array(definition) });

const DEEPEST = { none: 0, next: 1, all: Number.POSITIVE_INFINITY } as const;

@Controller()
export class CoverageController {
	constructor(private readonly coverage: Coverage) {}

	@Endpoint({
		method: "GET",
		path: "/coverage",
		access: "oversee",
		touches: ["area query.area"],
		summary: "Counts what is done of all that should be, in an area and a period",
		description:
			"Each figure with numerator, denominator, how many are missing, and a 95 % Wilson interval; the definitions say what each means, by whom it is defined and what is ours in it.",
		answer: { description: "The figures of the area and of those below it", schema: report },
	})
	async coverageOf(@Query({ schema: query }) asked: z.output<typeof query>) {
		const { areas, period: of, ...rest } = await this.coverage.report(askedOf(asked));
		return {
			...rest,
			period: periodView(of),
			areas: areas.filter(({ depth }) => depth > 0 && depth <= DEEPEST[asked.below]),
		};
	}

	@Endpoint({
		method: "GET",
		path: "/coverage/months",
		access: "oversee",
		touches: ["area query.area"],
		summary: "Counts the same for each calendar month of a period",
		answer: { description: "The area's figures by month; months to come are left out", schema: months },
	})
	async coverageByMonth(@Query({ schema: monthsQuery }) asked: z.output<typeof monthsQuery>) {
		const found = await this.coverage.byMonth(askedOf(asked));
		return { months: found.map(({ period: of, figures }) => ({ period: periodView(of), figures })) };
	}

	@Endpoint({
		method: "GET",
		path: "/coverage/definitions",
		access: "oversee",
		touches: ["nothing"],
		summary: "Says what each figure of coverage means",
		answer: { description: "The definitions, with the programme's own figures in their words", schema: definitions },
	})
	async coverageDefinitions() {
		return { definitions: await this.coverage.definitions() };
	}
}

function askedOf({ area, from, to, indicator: one }: z.output<typeof monthsQuery>) {
	return { areaCode: area, from, to, ...(one === undefined ? {} : { indicators: [one] }) };
}
