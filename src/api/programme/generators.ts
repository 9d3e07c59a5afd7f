import { Controller, Query } from "@nestjs/common";
import { z } from "zod";
import type { Caller } from "../../access/caller.js";
import { Store } from "../../store/store.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { code } from "../edge/fields.js";
import { idIfNamed, withinArea } from "../edge/named.js";
import { Conditions, pageOf, pageQuery, pageSchema, type Sort } from "../edge/page.js";

const sorts = { code: { column: "g.code", property: "code", kind: "text" } } as const satisfies Record<string, Sort>;

const query = pageQuery(sorts, { area: code.optional().meta({ description: "Code of an area; those below it count too" }) });

const generator = z
	.strictObject({
		code: z.string(),
		name: z.string(),
		areaCode: z.string(),
		ratedCurrentA: z.number(),
		cellsInSeries: z.int(),
		currentEfficiency: z.number().meta({ description: "Share of the current that ends as chlorine, 0 to 1" }),
		batchVolumeL: z.number(),
		saltGPerL: z.number(),
		inService: z.boolean(),
	})
	.meta({ id: "Generator" });

type Row = Omit<z.output<typeof generator>, "inService"> & { id: string; inService: boolean | number };

@Controller()
export class GeneratorsController {
	constructor(private readonly store: Store) {}

	@Endpoint({
		method: "GET",
		path: "/generators",
		access: "look",
		touches: ["list", "area query.area"],
		summary: "Lists generators",
		answer: { description: "Generators, by code", schema: pageSchema(generator) },
	})
	async listGenerators(@Query({ schema: query }) asked: z.output<typeof query>, @ByCaller() caller: Caller) {
		const areaId = await idIfNamed(this.store, "area", asked.area, "area");
		const conditions = new Conditions(caller.reach.over("generator", "g"));
		conditions.addIf(areaId, (place, value) => withinArea("g.area_id", place(value)));
		return pageOf<Row, z.output<typeof generator>>(
			this.store,
			`SELECT g.id, g.code, g.name, a.code AS area_code, g.rated_current_a, g.cells_in_series, g.current_efficiency, g.batch_volume_l, g.salt_g_per_l, g.in_service
			 FROM generator g JOIN area a ON a.id = g.area_id`,
			"g.id",
			sorts,
			asked,
			conditions,
			({ id: _, inService, ...item }) => ({ ...item, inService: Boolean(inService) }),
		);
	}
}
