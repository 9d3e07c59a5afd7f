import { Controller, Query } from "@nestjs/common";
import { z } from "zod";
import { OF_WHAT_IS_NAMED } from "../../access/reach.js";
import { Coverage } from "../../audit/coverage/coverage.js";
import { Store } from "../../store/store.js";
import { Endpoint } from "../edge/endpoint.js";
import { Conditions, pageOf, pageQuery, pageSchema, type Sort } from "../edge/page.js";
import { indicatorCode, where } from "./coverage-schemas.js";

const sorts = { code: { column: "s.code", property: "code", kind: "text" } } as const satisfies Record<string, Sort>;

const query = pageQuery(sorts, {
	...where,
	indicator: indicatorCode,
	set: z
		.enum(["numerator", "denominator", "missing", "rest"])
		.default("rest")
		.meta({ description: "rest: in the denominator and not in the numerator" }),
});

const record = z
	.strictObject({
		id: z.string(),
		code: z.string().meta({ description: "Of the household, jar, generator or task; a message goes by its id" }),
		areaCode: z.string(),
	})
	.meta({ id: "CoverageRecord" });

type Row = z.output<typeof record>;

@Controller()
export class CoverageRecordsController {
	constructor(
		private readonly store: Store,
		private readonly coverage: Coverage,
	) {}

	@Endpoint({
		method: "GET",
		path: "/coverage/records",
		access: "oversee",
		touches: ["area query.area"],
		summary: "Lists the records behind a figure of coverage",
		answer: { description: "What was counted, by code", schema: pageSchema(record) },
	})
	async coverageRecords(@Query({ schema: query }) asked: z.output<typeof query>) {
		const { area, from, to, indicator, set } = asked;
		const { statement, condition, parameters } = await this.coverage.records({ areaCode: area, from, to, indicator }, set);
		const conditions = new Conditions(OF_WHAT_IS_NAMED);
		conditions.parameters.push(...parameters);
		conditions.texts.push(condition);
		return pageOf<Row, Row>(this.store, statement, "s.id", sorts, asked, conditions, (row) => row);
	}
}
