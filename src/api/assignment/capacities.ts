import { Body, Controller, Headers, Param, Res } from "@nestjs/common";
import type { FastifyReply } from "fastify";
import { z } from "zod";
import { Capacities } from "../../assignment/capacities.js";
import { capacityColumns } from "../../assignment/capacity-import.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode } from "../edge/fields.js";
import { IF_MATCH, tagIn } from "../edge/if-match.js";

const said = <T>(schema: z.ZodType<T>, description: string) => schema.nullable().default(null).meta({ description });

const fields = {
	latitudeDeg: said(capacityColumns.latitude_deg.schema, "Where her rounds begin; null: the middle of her area"),
	longitudeDeg: said(capacityColumns.longitude_deg.schema, "Degrees, east positive"),
	mostHouseholds: said(capacityColumns.most_households.schema, "null: by her working days"),
	mostLitresPerDay: said(capacityColumns.most_litres_per_day.schema, "Treated water of her households"),
	mostHoursPerWeek: said(capacityColumns.most_hours_per_week.schema, "Visits and ways, there and back for each"),
	worksFrom: said(capacityColumns.works_from.schema, "Local time of day"),
	worksUntil: said(capacityColumns.works_until.schema, "Local time of day"),
};

const capacity = z.strictObject(fields);
const told = capacity.meta({ id: "Capacity" });
export const wantedCapacity = capacity
	.refine((given) => (given.latitudeDeg === null) === (given.longitudeDeg === null), {
		path: ["longitudeDeg"],
		error: "both coordinates or neither",
	})
	.refine((given) => given.worksFrom === null || given.worksUntil === null || given.worksFrom < given.worksUntil, {
		path: ["worksUntil"],
		error: "must be later than worksFrom",
	})
	.meta({ id: "WantedCapacity" });

@Controller()
export class CapacitiesController {
	constructor(private readonly capacities: Capacities) {}

	@Endpoint({
		method: "GET",
		path: "/people/:code/capacity",
		access: "look",
		touches: ["person path.code"],
		summary: "Tells what a volunteer can take on, and where and when she works",
		answer: { description: "null where nothing was said; ETag is its version", schema: told },
	})
	async capacity(@Param({ schema: byCode }) named: z.output<typeof byCode>, @Res({ passthrough: true }) reply: FastifyReply) {
		const { capacity: now, tag } = await this.capacities.of(named.code);
		void reply.header("etag", `"${tag}"`);
		return now;
	}

	@Endpoint({
		method: "PUT",
		path: "/people/:code/capacity",
		access: "lead",
		touches: ["person path.code"],
		summary: "Says what a volunteer can take on, and where and when she works",
		headers: IF_MATCH,
		answer: { description: "What holds now", schema: told },
	})
	async changeCapacity(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: wantedCapacity }) given: z.output<typeof wantedCapacity>,
		@Headers("if-match") ifMatch: string | undefined,
		@Res({ passthrough: true }) reply: FastifyReply,
	) {
		const { capacity: now, tag } = await this.capacities.change(named.code, given, tagIn(ifMatch));
		void reply.header("etag", `"${tag}"`);
		return now;
	}
}
