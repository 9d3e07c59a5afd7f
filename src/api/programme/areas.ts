import { Controller, Query } from "@nestjs/common";
import { z } from "zod";
import type { Caller } from "../../access/caller.js";
import { Store } from "../../store/store.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { Conditions, pageOf, pageQuery, pageSchema, type Sort } from "../edge/page.js";

const sorts = {
	code: { column: "a.code", property: "code", kind: "text" },
	name: { column: "a.name", property: "name", kind: "text" },
} as const satisfies Record<string, Sort>;

const query = pageQuery(sorts, {});

const area = z
	.strictObject({
		code: z.string(),
		name: z.string(),
		parentCode: z.string().nullable().meta({ description: "Code of the area that this one lies in" }),
		timeZone: z.string().meta({ description: "IANA zone" }),
		latitudeDeg: z.number(),
		longitudeDeg: z.number(),
		altitudeM: z.number(),
	})
	.meta({ id: "Area" });

type Row = z.output<typeof area> & { id: string };

@Controller()
export class AreasController {
	constructor(private readonly store: Store) {}

	@Endpoint({
		method: "GET",
		path: "/areas",
		access: "look",
		touches: ["list"],
		summary: "Lists areas",
		answer: { description: "Areas, by code", schema: pageSchema(area) },
	})
	listAreas(@Query({ schema: query }) asked: z.output<typeof query>, @ByCaller() caller: Caller) {
		return pageOf<Row, z.output<typeof area>>(
			this.store,
			`SELECT a.id, a.code, a.name, p.code AS parent_code, a.time_zone, a.latitude_deg, a.longitude_deg, a.altitude_m
			 FROM area a LEFT JOIN area p ON p.id = a.parent_id`,
			"a.id",
			sorts,
			asked,
			new Conditions(caller.reach.over("area", "a")),
			({ id: _, ...item }) => item,
		);
	}
}
