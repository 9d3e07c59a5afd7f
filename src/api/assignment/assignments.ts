import { Body, Controller, Headers, Param, Res } from "@nestjs/common";
import type { FastifyReply } from "fastify";
import { z } from "zod";
import { Assignments } from "../../assignment/assignments.js";
import { areaNamed } from "../../assignment/people.js";
import { Store } from "../../store/store.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, code } from "../edge/fields.js";
import { IF_MATCH, tagIn } from "../edge/if-match.js";
import { withinArea } from "../edge/named.js";
import { by, language } from "./schemas.js";

const assignment = z
	.strictObject({
		householdCode: z.string(),
		volunteerCode: z.string().nullable(),
		language: z.string().nullable().meta({ description: "BCP 47; null: not known" }),
		staysWithCode: z.string().nullable().meta({ description: "The only volunteer whom it is proposed to" }),
	})
	.meta({ id: "Assignment" });

const wantedAssignment = z
	.strictObject({
		volunteerCode: code.nullable(),
		language: language.nullable().optional().meta({ description: "Left out: as it is" }),
		staysWithCode: code.nullable().optional().meta({ description: "Left out: as it is" }),
		...by,
	})
	.meta({ id: "WantedAssignment" });

const areaAssignment = z
	.strictObject({
		areaCode: z.string(),
		households: z.int(),
		withoutVolunteer: z.int(),
		volunteers: z.array(z.strictObject({ code: z.string(), active: z.boolean(), households: z.int(), persons: z.int() })),
	})
	.meta({ id: "AreaAssignment" });

const wantedArea = z
	.strictObject({
		volunteerCode: code,
		onlyWithout: z.boolean().default(true).meta({ description: "true: only households that nobody looks after" }),
		...by,
	})
	.meta({ id: "WantedAreaAssignment" });

const moved = z.strictObject({ moved: z.int().meta({ description: "Households that changed hands" }) }).meta({ id: "Moved" });

@Controller()
export class AssignmentsController {
	constructor(
		private readonly assignments: Assignments,
		private readonly store: Store,
	) {}

	@Endpoint({
		method: "GET",
		path: "/households/:code/assignment",
		access: "look",
		touches: ["household path.code"],
		summary: "Tells who looks after a household",
		answer: { description: "ETag is its version", schema: assignment },
	})
	async householdAssignment(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Res({ passthrough: true }) reply: FastifyReply,
	) {
		const { assignment: now, tag } = await this.assignments.of(named.code);
		void reply.header("etag", `"${tag}"`);
		return now;
	}

	@Endpoint({
		method: "PUT",
		path: "/households/:code/assignment",
		access: "lead",
		touches: ["household path.code", "person body.volunteerCode", "person body.staysWithCode"],
		by: "byPersonCode",
		summary: "Gives a household to a volunteer, or to nobody",
		description: "Jars that stand in it and open tasks about it go along; tasks keep their codes. Both volunteers are told.",
		headers: IF_MATCH,
		answer: { description: "Who looks after it now", schema: assignment },
	})
	async assignHousehold(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: wantedAssignment }) { byPersonCode, ...wanted }: z.output<typeof wantedAssignment>,
		@Headers("if-match") ifMatch: string | undefined,
		@Res({ passthrough: true }) reply: FastifyReply,
	) {
		const read = tagIn(ifMatch);
		const { assignment: now, tag } = await this.assignments.assign(named.code, { ...wanted, byCode: byPersonCode }, read);
		void reply.header("etag", `"${tag}"`);
		return now;
	}

	@Endpoint({
		method: "GET",
		path: "/areas/:code/assignment",
		access: "oversee",
		touches: ["area path.code"],
		summary: "Tells how the households of an area and of those below it are shared",
		answer: { description: "ETag is the version of who looks after each of them", schema: areaAssignment },
	})
	async areaAssignment(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Res({ passthrough: true }) reply: FastifyReply,
	) {
		const area = await areaNamed(this.store, named.code, "code", 404);
		void reply.header("etag", `"${await this.assignments.areaTag(area.id)}"`);
		return this.shared(area);
	}

	@Endpoint({
		method: "POST",
		path: "/areas/:code/assignment",
		access: "lead",
		touches: ["area path.code", "person body.volunteerCode"],
		by: "byPersonCode",
		summary: "Gives the households of an area and of those below it to one volunteer",
		headers: IF_MATCH,
		answer: { description: "Done, all of them", schema: moved },
	})
	async assignArea(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: wantedArea }) { byPersonCode, ...wanted }: z.output<typeof wantedArea>,
		@Headers("if-match") ifMatch: string | undefined,
	): Promise<z.output<typeof moved>> {
		const read = tagIn(ifMatch);
		return { moved: await this.assignments.assignArea(named.code, { ...wanted, byCode: byPersonCode }, read) };
	}

	private async shared({ id, code: areaCode }: { id: string; code: string }): Promise<z.output<typeof areaAssignment>> {
		const rows = await this.store.query<{ code: string | null; active: boolean | number; households: number; persons: number }>(
			`SELECT p.code, p.active, COUNT(*) AS households, SUM(h.persons) AS persons FROM household h LEFT JOIN person p ON p.id = h.volunteer_id
			 WHERE ${withinArea("h.area_id", "$1")} GROUP BY p.code, p.active ORDER BY p.code`,
			[id],
		);
		const shares = rows.map((row) => ({
			...row,
			active: Boolean(row.active),
			households: Number(row.households),
			persons: Number(row.persons),
		}));
		return {
			areaCode,
			households: shares.reduce((sum, { households }) => sum + households, 0),
			withoutVolunteer: shares.find((share) => share.code === null)?.households ?? 0,
			volunteers: shares.flatMap(({ code: volunteer, ...share }) => (volunteer === null ? [] : [{ code: volunteer, ...share }])),
		};
	}
}
