import { Body, Controller, Param, Query } from "@nestjs/common";
import { z } from "zod";
import type { Caller } from "../../access/caller.js";
import { GeneratorRecords } from "../../duties/generator-records.js";
import { lotLife } from "../../generators/kit-lots.js";
import { currentPolicy, type Policy } from "../../programme/policy.js";
import { kitNames } from "../../science/kits.js";
import { Store } from "../../store/store.js";
import { only } from "../../store/unit-of-work.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, code, newStem, utc, utcOf } from "../edge/fields.js";
import { idIfNamed, idInPath, idNamed, withinArea } from "../edge/named.js";
import { Conditions, pageOf, pageQuery, pageSchema, type Sort } from "../edge/page.js";

const sorts = { code: { column: "l.code", property: "code", kind: "text" } } as const satisfies Record<string, Sort>;
const state = z.enum(["in use", "used up", "replaced"]);
const query = pageQuery(sorts, {
	area: code.optional().meta({ description: "Code of an area; those below it count too" }),
	holder: code.optional().meta({ description: "Code of a person" }),
	state: state.optional(),
});
const day = z.iso.date();
const kit = z.enum(kitNames, { error: `must be one of ${kitNames.join(", ")}` });

const lot = z
	.strictObject({
		code: z.string(),
		kit: z.string(),
		lot: z.string().meta({ description: "The maker's number on the pack" }),
		areaCode: z.string(),
		holderCode: z.string().nullable(),
		receivedOn: day,
		expiresOn: day,
		openedOn: day.nullable(),
		state,
		useUntilOn: day.meta({ description: "The first day on which it isn't used any more" }),
		useUntilReason: z.enum(["expiry", "opened"]),
		renewAt: utc.nullable().meta({ description: "When another is asked for; null where it is in use no more" }),
	})
	.meta({ id: "KitLot" });

const newLot = z
	.strictObject({
		code: newStem,
		kit,
		lot: z.string().trim().min(1).max(60),
		areaCode: code,
		holderCode: code.nullable().default(null),
		receivedOn: day,
		expiresOn: day,
		openedOn: day.nullable().default(null),
	})
	.meta({ id: "NewKitLot" });

const opened = z.strictObject({ openedOn: day }).meta({ id: "OpenedLot" });

type Row = Omit<z.output<typeof lot>, "useUntilOn" | "useUntilReason" | "renewAt"> & { id: string; timeZone: string };

const SELECT = `SELECT l.id, l.code, l.kit, l.lot, a.code AS area_code, p.code AS holder_code, l.received_on, l.expires_on, l.opened_on, l.state, a.time_zone
	FROM kit_lot l JOIN area a ON a.id = l.area_id LEFT JOIN person p ON p.id = l.holder_id`;

@Controller()
export class KitLotsController {
	constructor(
		private readonly store: Store,
		private readonly records: GeneratorRecords,
	) {}

	@Endpoint({
		method: "GET",
		path: "/kit-lots",
		access: "look",
		touches: ["list", "area query.area", "person query.holder"],
		summary: "Lists lots of test reagent",
		answer: { description: "Lots, by code", schema: pageSchema(lot) },
	})
	async listLots(@Query({ schema: query }) asked: z.output<typeof query>, @ByCaller() caller: Caller) {
		const areaId = await idIfNamed(this.store, "area", asked.area, "area");
		const holderId = await idIfNamed(this.store, "person", asked.holder, "holder");
		const conditions = new Conditions(caller.reach.over("kit lot", "l"));
		conditions.addIf(areaId, (place, value) => withinArea("l.area_id", place(value)));
		conditions.addIf(holderId, (place, value) => `l.holder_id = ${place(value)}`);
		conditions.addIf(asked.state, (place, value) => `l.state = ${place(value)}`);
		const policy = await currentPolicy(this.store);
		return pageOf<Row, z.output<typeof lot>>(this.store, SELECT, "l.id", sorts, asked, conditions, (row) => view(row, policy));
	}

	@Endpoint({
		method: "POST",
		path: "/kit-lots",
		access: "lead",
		touches: ["area body.areaCode", "person body.holderCode"],
		summary: "Puts a lot of test reagent on file",
		answer: { status: 201, description: "The lot", schema: lot },
	})
	async registerKitLot(@Body({ schema: newLot }) given: z.output<typeof newLot>): Promise<z.output<typeof lot>> {
		const areaId = await idNamed(this.store, "area", given.areaCode, "/areaCode");
		const holderId = (await idIfNamed(this.store, "person", given.holderCode ?? undefined, "/holderCode")) ?? null;
		const { areaCode: _, holderCode: __, ...rest } = given;
		await this.records.lot({ ...rest, areaId, holderId });
		return this.viewOf(given.code);
	}

	@Endpoint({
		method: "POST",
		path: "/kit-lots/:code/opened",
		access: "work",
		touches: ["kit lot path.code"],
		summary: "Keeps when a lot was opened",
		answer: { description: "The lot", schema: lot },
	})
	async opened(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: opened }) given: z.output<typeof opened>,
	): Promise<z.output<typeof lot>> {
		await this.records.lotOpened(await idInPath(this.store, "kit_lot", named.code), given.openedOn);
		return this.viewOf(named.code);
	}

	private async viewOf(lotCode: string): Promise<z.output<typeof lot>> {
		const row = only(await this.store.query<Row>(`${SELECT} WHERE l.code = $1`, [lotCode]));
		return view(row, await currentPolicy(this.store));
	}
}

function view({ id: _, timeZone, ...row }: Row, { generators: rules }: Policy): z.output<typeof lot> {
	const { useUntilOn, reason, renewAtMs } = lotLife(row, timeZone, rules.reagents);
	return { ...row, useUntilOn, useUntilReason: reason, renewAt: row.state === "in use" ? utcOf(renewAtMs) : null };
}
