import { Body, Controller, Headers, Param, Query, Res } from "@nestjs/common";
import type { FastifyReply } from "fastify";
import { z } from "zod";
import type { Caller } from "../../access/caller.js";
import { FollowUp } from "../../audit/incidents/follow-up.js";
import type { OpenIncident } from "../../audit/incidents/incident-kind.js";
import { Incidents } from "../../audit/incidents/incidents.js";
import { TimeLine } from "../../audit/incidents/time-line.js";
import { InputError } from "../../errors/errors.js";
import { Store } from "../../store/store.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { code, instant, utcOf, utcOrNull } from "../edge/fields.js";
import { IF_MATCH_OR_NONE, tagOrAny } from "../edge/if-match.js";
import { idIfNamed, withinArea } from "../edge/named.js";
import { Conditions, pageOf, pageQuery, pageSchema, type Sort } from "../edge/page.js";
import { closing, counts, detail, incident, kind, noting, state } from "./incident-schemas.js";

const named = z.strictObject({ id: z.string().min(1).max(64) });
const sorts = {
	"-openedAt": { column: "i.opened_at_ms", property: "openedAtMs", kind: "instant", descending: true },
	openedAt: { column: "i.opened_at_ms", property: "openedAtMs", kind: "instant" },
} as const satisfies Record<string, Sort>;
const area = code.optional().meta({ description: "Code of an area: what is below it too" });
const query = pageQuery(sorts, { area, state: state.optional(), kind: kind.optional() });
const period = z.strictObject({ area, from: instant, until: instant });

type View = z.output<typeof incident>;

interface Row extends OpenIncident {
	readonly kind: View["kind"];
	readonly subjectKind: string;
	readonly areaCode: string;
	readonly state: View["state"];
	readonly lookedIntoAtMs: number | null;
	readonly lookedIntoBy: string | null;
	readonly closedAtMs: number | null;
	readonly closedBy: string | null;
	readonly closedBecause: string | null;
	readonly toldAtMs: number | null;
}
type Kept = Omit<Row, "found"> & { readonly found: string };

const INCIDENTS = `SELECT i.id, i.kind, i.cause_id, i.subject_kind, i.subject_id, i.area_id, a.code AS area_code, i.happened_at_ms, i.opened_at_ms, i.state, i.found, i.told_at_ms,
	i.looked_into_at_ms, l.code AS looked_into_by, i.closed_at_ms, c.code AS closed_by, i.closed_because
	FROM incident i JOIN area a ON a.id = i.area_id LEFT JOIN person l ON l.id = i.looked_into_by LEFT JOIN person c ON c.id = i.closed_by`;

@Controller()
export class IncidentsController {
	constructor(
		private readonly store: Store,
		private readonly incidents: Incidents,
		private readonly timeLine: TimeLine,
		private readonly followUp: FollowUp,
	) {}

	@Endpoint({
		method: "GET",
		path: "/incidents",
		access: "oversee",
		touches: ["list", "area query.area"],
		summary: "Lists what went wrong: unfit water, weak bleach used, tasks and messages that came to nothing, generators out",
		answer: { description: "Incidents, the newest first", schema: pageSchema(incident) },
	})
	async listIncidents(@Query({ schema: query }) asked: z.output<typeof query>, @ByCaller() { reach }: Caller) {
		const areaId = await idIfNamed(this.store, "area", asked.area, "area");
		const conditions = new Conditions(reach.over("incident", "i"));
		conditions.addIf(areaId, (place, value) => withinArea("i.area_id", place(value)));
		conditions.addIf(asked.state, (place, value) => `i.state = ${place(value)}`);
		conditions.addIf(asked.kind, (place, value) => `i.kind = ${place(value)}`);
		return pageOf<Kept, View>(this.store, INCIDENTS, "i.id", sorts, asked, conditions, viewOf);
	}

	@Endpoint({
		method: "GET",
		path: "/incidents/counts",
		access: "oversee",
		touches: ["list", "area query.area"],
		summary: "Counts incidents that were opened in a time, by area and kind",
		answer: { description: "How many were opened, and how many of them are closed", schema: counts },
	})
	async countIncidents(@Query({ schema: period }) asked: z.output<typeof period>, @ByCaller() { reach }: Caller) {
		const areaId = await idIfNamed(this.store, "area", asked.area, "area");
		const conditions = new Conditions(reach.over("incident", "i"));
		conditions.addIf(areaId, (place, value) => withinArea("i.area_id", place(value)));
		conditions.add((place) => `i.opened_at_ms >= ${place(asked.from)}`);
		conditions.add((place) => `i.opened_at_ms < ${place(asked.until)}`);
		const rows = await this.store.query<{ areaCode: string; kind: string; opened: number; closed: number }>(
			`SELECT a.code AS area_code, i.kind, count(*) AS opened, sum(CASE WHEN i.state = 'closed' THEN 1 ELSE 0 END) AS closed
			 FROM incident i JOIN area a ON a.id = i.area_id WHERE ${conditions.texts.join(" AND ")} GROUP BY a.code, i.kind ORDER BY a.code, i.kind`,
			conditions.parameters,
		);
		return { items: rows.map(({ opened, closed, ...of }) => ({ ...of, opened: Number(opened), closed: Number(closed) })) };
	}

	@Endpoint({
		method: "GET",
		path: "/incidents/:id",
		access: "oversee",
		touches: ["incident path.id"],
		summary:
			"Tells an incident with its time line: what happened, who was asked and told and when, what they answered, what was done",
		answer: { description: "The incident; its ETag is another after each step", schema: detail },
	})
	async incidentNamed(
		@Param({ schema: named }) { id }: z.output<typeof named>,
		@Res({ passthrough: true }) reply: FastifyReply,
	): Promise<z.output<typeof detail>> {
		const [row] = await this.store.query<Kept>(`${INCIDENTS} WHERE i.id = $1`, [id]);
		const of = row && this.incidents.named(row.kind);
		if (!row || !of) throw new InputError("unknown-subject", "There is no such incident.", { status: 404 });
		void reply.header("etag", `"${await this.followUp.tagOf(id)}"`);
		const lines = await this.timeLine.of(of, { ...row, found: JSON.parse(row.found) as OpenIncident["found"] });
		return { ...viewOf(row), timeLine: lines.map(({ atMs, ...line }) => ({ at: utcOf(atMs), ...line })) };
	}

	@Endpoint({
		method: "POST",
		path: "/incidents/:id/look-into",
		access: "follow",
		touches: ["incident path.id"],
		summary: "Says that somebody looks into an incident",
		headers: IF_MATCH_OR_NONE,
		answer: { description: "The incident with its time line", schema: detail },
	})
	async lookInto(
		@Param({ schema: named }) { id }: z.output<typeof named>,
		@Headers("if-match") ifMatch: string | undefined,
		@ByCaller() { personId }: Caller,
		@Res({ passthrough: true }) reply: FastifyReply,
	) {
		await this.followUp.lookInto(id, personId, tagOrAny(ifMatch));
		return this.incidentNamed({ id }, reply);
	}

	@Endpoint({
		method: "POST",
		path: "/incidents/:id/notes",
		access: "follow",
		touches: ["incident path.id"],
		summary: "Adds what was found to the time line of an incident",
		headers: IF_MATCH_OR_NONE,
		answer: { description: "The incident with its time line", schema: detail },
	})
	async noteOfIncident(
		@Param({ schema: named }) { id }: z.output<typeof named>,
		@Body({ schema: noting }) { note }: z.output<typeof noting>,
		@Headers("if-match") ifMatch: string | undefined,
		@ByCaller() { personId }: Caller,
		@Res({ passthrough: true }) reply: FastifyReply,
	) {
		await this.followUp.note(id, note, personId, tagOrAny(ifMatch));
		return this.incidentNamed({ id }, reply);
	}

	@Endpoint({
		method: "POST",
		path: "/incidents/:id/close",
		access: "follow",
		touches: ["incident path.id"],
		summary: "Closes an incident with the reason",
		headers: IF_MATCH_OR_NONE,
		answer: { description: "The incident with its time line", schema: detail },
	})
	async closeIncident(
		@Param({ schema: named }) { id }: z.output<typeof named>,
		@Body({ schema: closing }) { because }: z.output<typeof closing>,
		@Headers("if-match") ifMatch: string | undefined,
		@ByCaller() { personId }: Caller,
		@Res({ passthrough: true }) reply: FastifyReply,
	) {
		await this.followUp.close(id, because, personId, tagOrAny(ifMatch));
		return this.incidentNamed({ id }, reply);
	}
}

function viewOf(row: Kept): View {
	return {
		id: row.id,
		kind: row.kind,
		areaCode: row.areaCode,
		about: row.subjectKind,
		found: JSON.parse(row.found) as View["found"],
		state: row.state,
		happenedAt: utcOf(row.happenedAtMs),
		openedAt: utcOf(row.openedAtMs),
		supervisorToldAt: utcOrNull(row.toldAtMs),
		lookedIntoAt: utcOrNull(row.lookedIntoAtMs),
		lookedIntoBy: row.lookedIntoBy,
		closedAt: utcOrNull(row.closedAtMs),
		closedBy: row.closedBy,
		closedBecause: row.closedBecause,
	};
}
