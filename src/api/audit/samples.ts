import { Body, Controller, Param, Query, Res } from "@nestjs/common";
import type { FastifyReply } from "fastify";
import { z } from "zod";
import type { Caller } from "../../access/caller.js";
import { SampleFindings } from "../../audit/sample/findings.js";
import type { SamplePlan } from "../../audit/sample/plan.js";
import { type Sample, Samples } from "../../audit/sample/samples.js";
import { Store } from "../../store/store.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { code, utcOf } from "../edge/fields.js";
import { idIfNamed, withinArea } from "../edge/named.js";
import { Conditions, pageOf, pageQuery, pageSchema, type Sort } from "../edge/page.js";
import { findings, sample, wantedSample } from "./sample-schemas.js";

const named = z.strictObject({ id: z.string().min(1).max(64) });
const sorts = { "-drawnAt": { column: "s.id", property: "id", kind: "text", descending: true } } as const satisfies Record<
	string,
	Sort
>;
const query = pageQuery(sorts, { area: code.optional().meta({ description: "Code of an area: what is below it too" }) });

type View = z.output<typeof sample>;
type Row = Omit<Sample, "plan" | "areaId" | "timeZone"> & { plan: string };

@Controller()
export class SamplesController {
	constructor(
		private readonly store: Store,
		private readonly samples: Samples,
		private readonly judged: SampleFindings,
	) {}

	@Endpoint({
		method: "POST",
		path: "/audit-samples",
		access: "audit",
		touches: ["area body.areaCode", "person body.auditorCodes[]"],
		summary: "Draws a random sample of households to be visited by others than their volunteers",
		description: "Its size is reckoned from its aims. Seed, list and method are kept, so that anybody can draw it again.",
		answer: { status: 201, description: "The sample", schema: sample },
	})
	async drawSample(@Body({ schema: wantedSample }) wanted: z.output<typeof wantedSample>): Promise<View> {
		return viewOf(await this.samples.named(await this.samples.draw(wanted)));
	}

	@Endpoint({
		method: "GET",
		path: "/audit-samples",
		access: "audit",
		touches: ["list", "area query.area"],
		summary: "Lists samples",
		answer: { description: "Samples, the newest first", schema: pageSchema(sample) },
	})
	async listSamples(@Query({ schema: query }) asked: z.output<typeof query>, @ByCaller() { reach }: Caller) {
		const areaId = await idIfNamed(this.store, "area", asked.area, "area");
		const conditions = new Conditions(reach.over("audit sample", "s"));
		conditions.addIf(areaId, (place, value) => withinArea("s.area_id", place(value)));
		return pageOf<Row, View>(
			this.store,
			`SELECT s.id, a.code AS area_code, s.drawn_at_ms, s.seed, s.method, s.frame_sha256, s.frame_households, s.plan, s.reported_from, s.reported_to
			 FROM audit_sample s JOIN area a ON a.id = s.area_id`,
			"s.id",
			sorts,
			asked,
			conditions,
			(row) => viewOf({ ...row, plan: JSON.parse(row.plan) as SamplePlan }),
		);
	}

	@Endpoint({
		method: "GET",
		path: "/audit-samples/:id",
		access: "audit",
		touches: ["audit sample path.id"],
		summary: "Tells how a sample was drawn",
		answer: { description: "The sample", schema: sample },
	})
	async sampleNamed(@Param({ schema: named }) { id }: z.output<typeof named>): Promise<View> {
		return viewOf(await this.samples.named(id));
	}

	@Endpoint({
		method: "GET",
		path: "/audit-samples/:id/frame",
		access: "audit",
		touches: ["audit sample path.id"],
		summary: "Gives the list that a sample was drawn from, as it stood then",
		answer: {
			description: "A line each: area and household with a tab between them; its SHA-256 stands with the sample",
			schema: z.string(),
			contentType: "text/tab-separated-values",
		},
	})
	async frameOfSample(
		@Param({ schema: named }) { id }: z.output<typeof named>,
		@Res({ passthrough: true }) reply: FastifyReply,
	): Promise<string> {
		const lines = await this.samples.frame(id);
		void reply.header("content-type", "text/tab-separated-values; charset=utf-8");
		return lines;
	}

	@Endpoint({
		method: "GET",
		path: "/audit-samples/:id/findings",
		access: "audit",
		touches: ["audit sample path.id"],
		summary: "Judges what the visits of a sample found, and compares it with what volunteers had reported",
		answer: { description: "Estimates with 95 % intervals, the class with its risks, agreement with kappa", schema: findings },
	})
	findingsOfSample(@Param({ schema: named }) { id }: z.output<typeof named>) {
		return this.judged.of(id);
	}
}

function viewOf({
	id,
	areaCode,
	drawnAtMs,
	seed,
	method,
	frameSha256,
	frameHouseholds,
	plan,
	reportedFrom,
	reportedTo,
}: Omit<Sample, "areaId" | "timeZone">): View {
	const drawnAt = utcOf(Number(drawnAtMs));
	return { id, areaCode, drawnAt, seed, method, frameSha256, frameHouseholds, plan, reportedFrom, reportedTo };
}
