import { Body, Controller, Headers, Param, Res } from "@nestjs/common";
import type { FastifyReply } from "fastify";
import { z } from "zod";
import { Capacities } from "../../assignment/capacities.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode } from "../edge/fields.js";
import { IF_MATCH, tagIn } from "../edge/if-match.js";
import { wallTime } from "./schemas.js";

const fields = {
	latitudeDeg: z
		.number()
		.min(-90)
		.max(90)
		.nullable()
		.default(null)
		.meta({ description: "Where her rounds begin; null: the middle of her area" }),
	longitudeDeg: z.number().min(-180).max(180).nullable().default(null),
	mostHouseholds: z.int().min(0).max(10_000).nullable().default(null).meta({ description: "null: by her working days" }),
	mostLitresPerDay: z
		.number()
		.min(0)
		.max(1_000_000)
		.nullable()
		.default(null)
		.meta({ description: "Treated water of her households" }),
	mostHoursPerWeek: z
		.number()
		.min(0)
		.max(168)
		.nullable()
		.default(null)
		.meta({ description: "Visits and ways, there and back for each" }),
	worksFrom: wallTime.nullable().default(null),
	worksUntil: wallTime.nullable().default(null),
};

const capacity = z.strictObject(fields);
const told = capacity.meta({ id: "Capacity" });
const wanted = capacity
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
		access: "office",
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
		access: "office",
		summary: "Says what a volunteer can take on, and where and when she works",
		headers: IF_MATCH,
		answer: { description: "What holds now", schema: told },
	})
	async changeCapacity(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: wanted }) given: z.output<typeof wanted>,
		@Headers("if-match") ifMatch: string | undefined,
		@Res({ passthrough: true }) reply: FastifyReply,
	) {
		const { capacity: now, tag } = await this.capacities.change(named.code, given, tagIn(ifMatch));
		void reply.header("etag", `"${tag}"`);
		return now;
	}
}
