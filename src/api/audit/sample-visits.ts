import { Body, Controller, Param, Query } from "@nestjs/common";
import { z } from "zod";
import { OF_WHAT_IS_NAMED } from "../../access/reach.js";
import { LAST_RESULT } from "../../audit/sample/findings.js";
import { AuditResults } from "../../audit/sample/results.js";
import { Samples } from "../../audit/sample/samples.js";
import { Store } from "../../store/store.js";
import { Endpoint } from "../edge/endpoint.js";
import { code, utc, utcOrNull } from "../edge/fields.js";
import { idIfNamed } from "../edge/named.js";
import { Conditions, pageOf, pageQuery, pageSchema, type Sort } from "../edge/page.js";
import { foundAtVisit } from "./sample-schemas.js";

const named = z.strictObject({ id: z.string().min(1).max(64) });
const visitNamed = z.strictObject({ id: z.string().min(1).max(64), household: code });
const sorts = { household: { column: "h.code", property: "householdCode", kind: "text" } } as const satisfies Record<
	string,
	Sort
>;
const query = pageQuery(sorts, {
	auditor: code.optional().meta({ description: "Code of a person" }),
	outcome: z.enum(["open", "seen", "refused", "absent"]).optional(),
});

const visit = z
	.strictObject({
		householdCode: z.string(),
		areaCode: z.string(),
		place: z.int().meta({ description: "In the order of the draw, from 1" }),
		cluster: z.int().nullable(),
		auditorCode: z.string(),
		outcome: z.enum(["open", "seen", "refused", "absent"]),
		visitedAt: utc.nullable(),
		byCode: z.string().nullable().meta({ description: "Who made the visit" }),
		freeChlorineMgPerL: z.number().nullable(),
		treated: z.boolean().nullable(),
		containerSeen: z.boolean().nullable(),
		corrected: z.string().nullable().meta({ description: "Why an earlier result was corrected" }),
	})
	.meta({ id: "AuditVisit" });

const kept = z
	.strictObject({ householdCode: z.string(), outcome: z.enum(["seen", "refused", "absent"]) })
	.meta({ id: "KeptVisit" });

type View = z.output<typeof visit>;
type Row = Omit<View, "visitedAt" | "treated" | "containerSeen"> & {
	readonly id: string;
	readonly visitedAtMs: number | null;
	readonly treated: boolean | number | null;
	readonly containerSeen: boolean | number | null;
};

@Controller()
export class SampleVisitsController {
	constructor(
		private readonly store: Store,
		private readonly samples: Samples,
		private readonly results: AuditResults,
	) {}

	@Endpoint({
		method: "GET",
		path: "/audit-samples/:id/visits",
		access: "audit",
		touches: ["audit sample path.id", "person query.auditor"],
		summary: "Lists the visits of a sample with what was found last",
		answer: { description: "Visits, by household", schema: pageSchema(visit) },
	})
	async listVisits(
		@Param({ schema: named }) { id }: z.output<typeof named>,
		@Query({ schema: query }) asked: z.output<typeof query>,
	) {
		await this.samples.named(id);
		const auditorId = await idIfNamed(this.store, "person", asked.auditor, "auditor");
		const conditions = new Conditions(OF_WHAT_IS_NAMED);
		conditions.add((place) => `v.sample_id = ${place(id)}`);
		conditions.addIf(auditorId, (place, value) => `v.auditor_id = ${place(value)}`);
		conditions.addIf(asked.outcome, (place, value) => `COALESCE(r.outcome, 'open') = ${place(value)}`);
		return pageOf<Row, View>(
			this.store,
			`SELECT v.id, h.code AS household_code, a.code AS area_code, v.place, v.cluster, p.code AS auditor_code, COALESCE(r.outcome, 'open') AS outcome,
			  r.visited_at_ms, b.code AS by_code, r.free_chlorine_mg_per_l, r.treated, r.container_seen, r.because AS corrected
			 FROM audit_visit v JOIN household h ON h.id = v.household_id JOIN area a ON a.id = h.area_id JOIN person p ON p.id = v.auditor_id
			 LEFT JOIN audit_result r ON r.id = ${LAST_RESULT} LEFT JOIN person b ON b.id = r.by_person_id`,
			"v.id",
			sorts,
			asked,
			conditions,
			({ id: _, visitedAtMs, treated, containerSeen, ...row }) => ({
				...row,
				visitedAt: utcOrNull(visitedAtMs),
				treated: treated === null ? null : Boolean(treated),
				containerSeen: containerSeen === null ? null : Boolean(containerSeen),
			}),
		);
	}

	@Endpoint({
		method: "POST",
		path: "/audit-samples/:id/visits/:household/result",
		access: "audit",
		touches: ["audit sample path.id", "household path.household", "person body.byPersonCode"],
		summary: "Keeps what an auditor found at a household",
		description: "Nothing is overwritten: a further result corrects the one before and says why.",
		answer: { status: 201, description: "It is kept", schema: kept },
	})
	async recordFound(
		@Param({ schema: visitNamed }) { id, household }: z.output<typeof visitNamed>,
		@Body({ schema: foundAtVisit }) { visitedAt, ...found }: z.output<typeof foundAtVisit>,
	): Promise<z.output<typeof kept>> {
		await this.results.record(id, household, { ...found, visitedAtMs: visitedAt });
		return { householdCode: household, outcome: found.outcome };
	}
}
