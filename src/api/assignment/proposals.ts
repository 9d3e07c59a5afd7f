import { Body, Controller, Headers, Param, Query, Res } from "@nestjs/common";
import type { FastifyReply } from "fastify";
import { z } from "zod";
import type { Caller } from "../../access/caller.js";
import { Decisions } from "../../assignment/decisions.js";
import { type Proposal, Proposals } from "../../assignment/proposals.js";
import { HandOvers } from "../../duties/hand-overs.js";
import { placeholders } from "../../store/sql.js";
import { Store } from "../../store/store.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { code, utc, utcOf, utcOrNull } from "../edge/fields.js";
import { IF_MATCH, tagIn } from "../edge/if-match.js";
import { Conditions, pageOf, pageQuery, pageSchema, type Sort } from "../edge/page.js";
import { by, counts } from "./schemas.js";

const named = z.strictObject({ id: z.string().min(1).max(64) });
const lineNamed = z.strictObject({ id: z.string().min(1).max(64), household: code });
const asking = z.strictObject({ areaCode: code, ...by }).meta({ id: "WantedProposal" });
const asked = z.strictObject({ id: z.string() }).meta({ id: "AskedProposal" });
const deciding = z.strictObject(by).meta({ id: "Deciding" });
const accepted = z.strictObject({ moved: z.int(), handedOver: counts }).meta({ id: "AcceptedProposal" });
const changing = z
	.strictObject({ volunteerCode: code.nullable().meta({ description: "null: it stays as it is" }) })
	.meta({ id: "ChangedLine" });
const version = z.strictObject({ version: z.int() }).meta({ id: "ProposalVersion" });

const figures = z.strictObject({
	distanceKm: z.number().meta({ description: "From each volunteer's place to each of her households, one way, straight lines" }),
	moves: z.int(),
	withoutVolunteer: z.int(),
	otherLanguage: z.int(),
});

const proposal = z
	.strictObject({
		id: z.string(),
		areaCode: z.string(),
		state: z.enum(["solving", "open", "accepted", "rejected", "stopped"]),
		askedAt: utc,
		closedAt: utc.nullable(),
		forAbsenceOf: z.string().nullable().meta({ description: "The volunteer whose work is shared" }),
		restToCode: z.string().nullable().meta({ description: "Who gets her jars and tasks that belong to no household" }),
		summary: z
			.strictObject({
				by: z.enum(["optimiser", "nearest first"]),
				remark: z.string().nullable().meta({ description: "Why it isn't proven to be the best; null where it is" }),
				costKm: z.number(),
				boundKm: z.number().meta({ description: "No assignment costs less" }),
				today: figures,
				proposed: figures,
				loads: z.array(
					z.strictObject({
						volunteerCode: z.string(),
						householdsToday: z.int(),
						households: z.int(),
						mostHouseholds: z.int(),
						litresPerDay: z.number(),
						hoursPerWeek: z.number(),
						distanceKm: z.number(),
					}),
				),
				leftOver: z.int(),
				remedy: z.string().nullable().meta({ description: "What would make room for those that are left over" }),
			})
			.nullable(),
	})
	.meta({ id: "AssignmentProposal" });

const sorts = { household: { column: "h.code", property: "householdCode", kind: "text" } } as const satisfies Record<
	string,
	Sort
>;
const state = z.enum(["proposed", "by hand", "left over", "applied"]);
const lineQuery = pageQuery(sorts, {
	state: state.optional(),
	to: code.optional().meta({ description: "Code of a volunteer" }),
	moves: z.enum(["true"]).optional().meta({ description: "true: only households that would change hands" }),
});

const line = z
	.strictObject({
		householdCode: z.string(),
		fromCode: z.string().nullable(),
		toCode: z.string().nullable(),
		fromKm: z.number().nullable(),
		toKm: z.number().nullable(),
		state,
	})
	.meta({ id: "ProposalLine" });

type LineRow = z.output<typeof line> & { id: string };

@Controller()
export class ProposalsController {
	constructor(
		private readonly store: Store,
		private readonly proposals: Proposals,
		private readonly decisions: Decisions,
		private readonly handOvers: HandOvers,
	) {}

	@Endpoint({
		method: "POST",
		path: "/assignment-proposals",
		access: "lead",
		touches: ["area body.areaCode"],
		by: "byPersonCode",
		summary: "Asks who should look after whom in an area and those below it",
		description: "It is solved beside everything else: read the proposal until its state is open.",
		answer: { status: 202, description: "Being solved", schema: asked },
	})
	async askForProposal(
		@Body({ schema: asking }) { areaCode, byPersonCode }: z.output<typeof asking>,
	): Promise<z.output<typeof asked>> {
		const { id } = await this.proposals.ask(areaCode, byPersonCode);
		return { id };
	}

	@Endpoint({
		method: "GET",
		path: "/assignment-proposals/:id",
		access: "oversee",
		touches: ["assignment proposal path.id"],
		summary: "Tells a proposal: its cost beside today's, moves, the load of each volunteer, what is left over",
		answer: { description: "ETag is its version", schema: proposal },
	})
	async oneProposal(@Param({ schema: named }) { id }: z.output<typeof named>, @Res({ passthrough: true }) reply: FastifyReply) {
		const found = await this.proposals.named(id);
		void reply.header("etag", `"${found.version}"`);
		return this.told(found);
	}

	@Endpoint({
		method: "GET",
		path: "/assignment-proposals/:id/lines",
		access: "oversee",
		touches: ["list", "assignment proposal path.id", "person query.to"],
		summary: "Lists the households of a proposal",
		answer: { description: "By the household's code", schema: pageSchema(line) },
	})
	async proposalLines(
		@Param({ schema: named }) { id }: z.output<typeof named>,
		@Query({ schema: lineQuery }) query: z.output<typeof lineQuery>,
		@ByCaller() caller: Caller,
	) {
		await this.proposals.named(id);
		const conditions = new Conditions(caller.reach.over("household", "h"));
		conditions.add((place) => `l.proposal_id = ${place(id)}`);
		conditions.addIf(query.state, (place, value) => `l.state = ${place(value)}`);
		conditions.addIf(query.to, (place, value) => `t.code = ${place(value)}`);
		conditions.addIf(query.moves, () => "l.to_id IS NOT NULL AND l.to_id IS DISTINCT FROM l.from_id");
		return pageOf<LineRow, z.output<typeof line>>(
			this.store,
			`SELECT l.household_id AS id, h.code AS household_code, f.code AS from_code, t.code AS to_code, l.from_km, l.to_km, l.state
			 FROM assignment_proposal_line l JOIN household h ON h.id = l.household_id LEFT JOIN person f ON f.id = l.from_id LEFT JOIN person t ON t.id = l.to_id`,
			"l.household_id",
			sorts,
			query,
			conditions,
			({ id: _, ...item }) => item,
		);
	}

	@Endpoint({
		method: "PUT",
		path: "/assignment-proposals/:id/lines/:household",
		access: "lead",
		touches: ["assignment proposal path.id", "household path.household", "person body.volunteerCode"],
		summary: "Gives a household of a proposal to another volunteer before it is accepted",
		headers: IF_MATCH,
		answer: { description: "Changed; the proposal's version now", schema: version },
	})
	async changeLine(
		@Param({ schema: lineNamed }) { id, household }: z.output<typeof lineNamed>,
		@Body({ schema: changing }) { volunteerCode }: z.output<typeof changing>,
		@Headers("if-match") ifMatch: string | undefined,
		@Res({ passthrough: true }) reply: FastifyReply,
	): Promise<z.output<typeof version>> {
		const now = await this.decisions.changeLine(id, household, volunteerCode, tagIn(ifMatch));
		void reply.header("etag", `"${now}"`);
		return { version: now };
	}

	@Endpoint({
		method: "POST",
		path: "/assignment-proposals/:id/accept",
		access: "lead",
		touches: ["assignment proposal path.id"],
		by: "byPersonCode",
		summary: "Does all that a proposal says, or nothing of it",
		headers: IF_MATCH,
		answer: { description: "Done; households that are left over stay as they are", schema: accepted },
	})
	async acceptProposal(
		@Param({ schema: named }) { id }: z.output<typeof named>,
		@Body({ schema: deciding }) { byPersonCode }: z.output<typeof deciding>,
		@Headers("if-match") ifMatch: string | undefined,
	): Promise<z.output<typeof accepted>> {
		const { moved, handedOver } = await this.handOvers.accept(id, tagIn(ifMatch), byPersonCode);
		return { moved, handedOver: { ...handedOver } };
	}

	@Endpoint({
		method: "POST",
		path: "/assignment-proposals/:id/reject",
		access: "lead",
		touches: ["assignment proposal path.id"],
		summary: "Turns a proposal down, or stops its solving",
		answer: { description: "Nothing of it is done", schema: proposal },
	})
	async rejectProposal(@Param({ schema: named }) { id }: z.output<typeof named>) {
		await this.proposals.reject(id);
		return this.told(await this.proposals.named(id));
	}

	private async told({
		id,
		areaId,
		absenceId,
		state: now,
		askedAtMs,
		closedAtMs,
		restToId,
		summary,
	}: Proposal): Promise<z.output<typeof proposal>> {
		const [names] = await this.store.query<{ areaCode: string; away: string | null; rest: string | null }>(
			`SELECT a.code AS area_code, p.code AS away, r.code AS rest FROM area a LEFT JOIN absence x ON x.id = $2 LEFT JOIN person p ON p.id = x.person_id
			 LEFT JOIN person r ON r.id = $3 WHERE a.id = $1`,
			[areaId, absenceId, restToId],
		);
		const codes = await this.codesOf(summary?.loads.map(({ volunteerId }) => volunteerId) ?? []);
		return {
			id,
			areaCode: names?.areaCode ?? "",
			state: now,
			askedAt: utcOf(askedAtMs),
			closedAt: utcOrNull(closedAtMs),
			forAbsenceOf: names?.away ?? null,
			restToCode: names?.rest ?? null,
			summary: summary && {
				...summary,
				loads: summary.loads.map(({ volunteerId, ...load }) => ({
					volunteerCode: codes.get(volunteerId) ?? volunteerId,
					...load,
				})),
			},
		};
	}

	private async codesOf(ids: readonly string[]): Promise<ReadonlyMap<string, string>> {
		const codes = new Map<string, string>();
		for (let from = 0; from < ids.length; from += 500) {
			const page = ids.slice(from, from + 500);
			const rows = await this.store.query<{ id: string; code: string }>(
				`SELECT id, code FROM person WHERE id IN (${placeholders(page.length)})`,
				page,
			);
			for (const row of rows) codes.set(row.id, row.code);
		}
		return codes;
	}
}
