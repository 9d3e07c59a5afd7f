import { Body, Controller, Param, Query } from "@nestjs/common";
import { z } from "zod";
import type { Caller } from "../../access/caller.js";
import { Batches } from "../../stock/batches.js";
import type { Forecast } from "../../stock/forecast.js";
import { Store } from "../../store/store.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, code, utcOf } from "../edge/fields.js";
import { idIfNamed, withinArea } from "../edge/named.js";
import { Conditions, pageOf, pageQuery, pageSchema, type Sort } from "../edge/page.js";
import { batchCommon, batchState, newBatch } from "./batch-schemas.js";
import { figuresSchema, figuresView, forecastSchema, forecastView } from "./forecast-view.js";
import { testSchema, testView } from "./test-view.js";

const sorts = {
	code: { column: "b.code", property: "code", kind: "text" },
	"-madeAt": { column: "b.made_at_ms", property: "madeAtMs", kind: "instant", descending: true },
	madeAt: { column: "b.made_at_ms", property: "madeAtMs", kind: "instant" },
} as const satisfies Record<string, Sort>;

const query = pageQuery(sorts, {
	keeper: code.optional().meta({ description: "Code of a person" }),
	state: batchState.optional(),
	area: code.optional().meta({ description: "Code of an area; those below it count too" }),
});

const batch = batchCommon.extend({ forecast: forecastSchema.nullable().meta({ description: "As of the batch's last fact" }) });
const listed = batch.meta({ id: "Batch" });

const inFull = batchCommon
	.extend({
		forecast: forecastSchema.meta({ description: "As of now" }),
		tests: z.array(testSchema),
		curve: z.array(figuresSchema).meta({ description: "The expected strength from the making on" }),
	})
	.meta({ id: "BatchInFull" });

type Row = Omit<z.output<typeof batch>, "madeAt" | "forecast"> & { id: string; madeAtMs: number; forecast: string | null };

const SELECT = `SELECT b.id, b.code, g.code AS generator_code, a.code AS area_code, k.code AS keeper_code, b.made_at_ms, b.volume_l, b.made_strength_g_per_l,
	b.made_strength_ln_sd, b.salt_g_per_l, b.ph, b.ph_knowledge, b.wall, b.exposure, b.lit_area_m2, b.state, b.forecast
	FROM batch b JOIN area a ON a.id = b.area_id LEFT JOIN generator g ON g.id = b.generator_id LEFT JOIN person k ON k.id = b.keeper_id`;

@Controller()
export class BatchesController {
	constructor(
		private readonly store: Store,
		private readonly batches: Batches,
	) {}

	@Endpoint({
		method: "GET",
		path: "/batches",
		access: "look",
		touches: ["list", "area query.area", "person query.keeper"],
		summary: "Lists batches of bleach",
		answer: { description: "Batches, by code", schema: pageSchema(listed) },
	})
	async listBatches(@Query({ schema: query }) asked: z.output<typeof query>, @ByCaller() caller: Caller) {
		const keeperId = await idIfNamed(this.store, "person", asked.keeper, "keeper");
		const areaId = await idIfNamed(this.store, "area", asked.area, "area");
		const conditions = new Conditions(caller.reach.over("batch", "b"));
		conditions.addIf(keeperId, (place, value) => `b.keeper_id = ${place(value)}`);
		conditions.addIf(asked.state, (place, value) => `b.state = ${place(value)}`);
		conditions.addIf(areaId, (place, value) => withinArea("b.area_id", place(value)));
		return pageOf<Row, z.output<typeof batch>>(this.store, SELECT, "b.id", sorts, asked, conditions, itemOf);
	}

	@Endpoint({
		method: "POST",
		path: "/batches",
		access: "lead",
		touches: ["area body.areaCode", "person body.keeperCode", "generator body.generatorCode"],
		summary: "Puts a batch on file and forecasts it",
		answer: { status: 201, description: "The batch with its first forecast", schema: listed },
	})
	async registerBatch(@Body({ schema: newBatch }) given: z.output<typeof newBatch>): Promise<z.output<typeof batch>> {
		const { madeAt, ...rest } = given;
		const { code } = await this.batches.register({ ...rest, madeAtMs: madeAt });
		return itemOf(await this.rowOf(code));
	}

	@Endpoint({
		method: "GET",
		path: "/batches/:code",
		access: "look",
		touches: ["batch path.code"],
		summary: "Tells one batch: its tests, its forecast, its curve",
		answer: { description: "The batch", schema: inFull },
	})
	async oneBatch(@Param({ schema: byCode }) named: z.output<typeof byCode>): Promise<z.output<typeof inFull>> {
		const { tests, forecast, curve } = await this.batches.detail(named.code);
		const { forecast: _, ...item } = itemOf(await this.rowOf(named.code));
		return { ...item, forecast: forecastView(forecast), tests: tests.map(testView), curve: curve.map(figuresView) };
	}

	private async rowOf(code: string): Promise<Row> {
		const [row] = await this.store.query<Row>(`${SELECT} WHERE b.code = $1`, [code]);
		return row as Row;
	}
}

function itemOf({ id: _, madeAtMs, forecast, ...item }: Row): z.output<typeof batch> {
	return {
		...item,
		madeAt: utcOf(madeAtMs),
		forecast: forecast === null ? null : forecastView(JSON.parse(forecast) as Forecast),
	};
}
