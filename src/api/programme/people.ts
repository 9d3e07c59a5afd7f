import { Controller, Query } from "@nestjs/common";
import { z } from "zod";
import type { Caller } from "../../access/caller.js";
import { Blind } from "../../store/sealing/blind.js";
import { blindOfColumn } from "../../store/sealing/envelope.js";
import { among } from "../../store/sql.js";
import { Store } from "../../store/store.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { code, maskedEmail, maskedPhone } from "../edge/fields.js";
import { idIfNamed, withinArea } from "../edge/named.js";
import { Conditions, pageOf, pageQuery, pageSchema, type Sort } from "../edge/page.js";

const sorts = {
	code: { column: "p.code", property: "code", kind: "text" },
	name: { column: "p.name", property: "name", kind: "text", isSealed: true },
} as const satisfies Record<string, Sort>;

const role = z.enum(["volunteer", "supervisor", "health office"]);

const query = pageQuery(sorts, {
	role: role.optional(),
	name: z
		.string()
		.trim()
		.min(1)
		.max(200)
		.optional()
		.meta({ description: "The whole name; capitals and accents make no difference" }),
	area: code.optional().meta({ description: "Code of an area; those below it count too" }),
});

const person = z
	.strictObject({
		code: z.string(),
		role,
		name: z.string(),
		phone: z.string().nullable().meta({ description: "The last three digits" }),
		email: z.string().nullable().meta({ description: "The first letter and the domain" }),
		channels: z.array(z.string()).meta({ description: "In order of preference; none: the programme's first" }),
		language: z.string().meta({ description: "BCP 47" }),
		areaCode: z.string(),
		supervisorCode: z.string().nullable(),
		active: z.boolean(),
		wantsMessages: z.boolean(),
	})
	.meta({ id: "Person" });

type Row = Omit<z.output<typeof person>, "phone" | "channels" | "active" | "wantsMessages"> & {
	id: string;
	phoneE164: string | null;
	/** JSON. */
	channels: string;
	active: boolean | number;
	optedOutAtMs: number | null;
};

@Controller()
export class PeopleController {
	constructor(private readonly store: Store) {}

	@Endpoint({
		method: "GET",
		path: "/people",
		access: "look",
		touches: ["list", "area query.area"],
		summary: "Lists people",
		answer: { description: "People, by code", schema: pageSchema(person) },
	})
	async listPeople(@Query({ schema: query }) asked: z.output<typeof query>, @ByCaller() caller: Caller) {
		const areaId = await idIfNamed(this.store, "area", asked.area, "area");
		const conditions = new Conditions(caller.reach.over("person", "p"));
		conditions.addIf(asked.role, (place, value) => `p.role = ${place(value)}`);
		conditions.addIf(
			asked.name,
			(place, value) => `${blindOfColumn("p.name")} ${among(this.store.kind, place(new Blind("name", value)))}`,
		);
		conditions.addIf(areaId, (place, value) => withinArea("p.area_id", place(value)));
		return pageOf<Row, z.output<typeof person>>(
			this.store,
			`SELECT p.id, p.code, p.role, p.name, p.phone_e164, p.email, p.channels, p.language, a.code AS area_code, s.code AS supervisor_code, p.active, p.opted_out_at_ms
			 FROM person p JOIN area a ON a.id = p.area_id LEFT JOIN person s ON s.id = p.supervisor_id`,
			"p.id",
			sorts,
			asked,
			conditions,
			itemOf,
		);
	}
}

function itemOf({ id: _, phoneE164, email, channels, active, optedOutAtMs, ...item }: Row): z.output<typeof person> {
	const told = { phone: maskedPhone(phoneE164), email: maskedEmail(email), channels: JSON.parse(channels) as string[] };
	return { ...item, ...told, active: Boolean(active), wantsMessages: optedOutAtMs === null };
}
