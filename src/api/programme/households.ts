import { Controller, Query } from "@nestjs/common";
import { z } from "zod";
import type { Caller } from "../../access/caller.js";
import { placeholders } from "../../store/sql.js";
import { Store } from "../../store/store.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { code } from "../edge/fields.js";
import { idIfNamed, withinArea } from "../edge/named.js";
import { Conditions, pageOf, pageQuery, pageSchema, type Sort } from "../edge/page.js";

const sorts = { code: { column: "h.code", property: "code", kind: "text" } } as const satisfies Record<string, Sort>;

const query = pageQuery(sorts, {
	area: code.optional().meta({ description: "Code of an area; those below it count too" }),
	volunteer: code.optional().meta({ description: "Code of a person" }),
});

const container = z.strictObject({
	code: z.string(),
	volumeL: z.number(),
	kind: z.string(),
	lastCleanedOn: z.string().nullable().meta({ description: "Local date" }),
});

const household = z
	.strictObject({
		code: z.string(),
		areaCode: z.string(),
		volunteerCode: z.string().nullable(),
		persons: z.int(),
		waterSource: z.string(),
		turbidity: z.string(),
		containers: z.array(container),
	})
	.meta({ id: "Household" });

type Row = Omit<z.output<typeof household>, "containers"> & { id: string };

@Controller()
export class HouseholdsController {
	constructor(private readonly store: Store) {}

	@Endpoint({
		method: "GET",
		path: "/households",
		access: "look",
		touches: ["list", "area query.area", "person query.volunteer"],
		summary: "Lists households and the containers in which they store water",
		answer: { description: "Households, by code", schema: pageSchema(household) },
	})
	async listHouseholds(@Query({ schema: query }) asked: z.output<typeof query>, @ByCaller() caller: Caller) {
		const areaId = await idIfNamed(this.store, "area", asked.area, "area");
		const volunteerId = await idIfNamed(this.store, "person", asked.volunteer, "volunteer");
		const conditions = new Conditions(caller.reach.over("household", "h"));
		conditions.addIf(areaId, (place, value) => withinArea("h.area_id", place(value)));
		conditions.addIf(volunteerId, (place, value) => `h.volunteer_id = ${place(value)}`);
		const page = await pageOf<Row, Row>(
			this.store,
			`SELECT h.id, h.code, a.code AS area_code, v.code AS volunteer_code, h.persons, h.water_source, h.turbidity
			 FROM household h JOIN area a ON a.id = h.area_id LEFT JOIN person v ON v.id = h.volunteer_id`,
			"h.id",
			sorts,
			asked,
			conditions,
			(row) => row,
		);
		const containers = await this.containersOf(page.items.map(({ id }) => id));
		return { ...page, items: page.items.map(({ id, ...item }) => ({ ...item, containers: containers.get(id) ?? [] })) };
	}

	private async containersOf(ids: readonly string[]): Promise<Map<string, z.output<typeof container>[]>> {
		const of = new Map<string, z.output<typeof container>[]>();
		if (ids.length === 0) return of;
		const rows = await this.store.query<z.output<typeof container> & { householdId: string }>(
			`SELECT household_id, code, volume_l, kind, last_cleaned_on FROM container WHERE household_id IN (${placeholders(ids.length)}) ORDER BY code`,
			ids,
		);
		for (const { householdId, ...item } of rows) of.set(householdId, [...(of.get(householdId) ?? []), item]);
		return of;
	}
}
