import { Body, Controller, Param, Query } from "@nestjs/common";
import { z } from "zod";
import type { Caller } from "../../access/caller.js";
import { currentPolicy } from "../../programme/policy.js";
import { levelledItems, StockItems } from "../../stock/items.js";
import { Store } from "../../store/store.js";
import { Clock } from "../../time/clock.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, code, instant, newCode, utcOrNull } from "../edge/fields.js";
import { idIfNamed, withinArea } from "../edge/named.js";
import { Conditions, pageOf, pageQuery, pageSchema, type Sort } from "../edge/page.js";

const kind = z.enum(["salt", "reagent", "syringe", "goggles", "gloves", "electrode"]);
const unit = z.enum(["g", "drop", "piece"]);
const whole = z.number().int().min(0).max(1_000_000_000);

const newItem = z
	.strictObject({
		code: newCode,
		kind,
		holderCode: code.nullable().default(null),
		generatorCode: code.nullable().default(null),
		quantity: whole.meta({ description: "g of salt, drops of reagent, pieces of the rest" }),
		expiresOn: z.iso.date().nullable().default(null).meta({ description: "Its last good day" }),
		usePerDay: z
			.number()
			.positive()
			.max(1_000_000)
			.nullable()
			.default(null)
			.meta({ description: "Without it: salt by the plans, reagent by the tests that are due" }),
		reorderAt: whole.nullable().default(null),
		orderUpTo: whole.nullable().default(null),
	})
	.refine((item) => (item.holderCode === null) !== (item.generatorCode === null), {
		error: "must have either holderCode or generatorCode",
		path: ["holderCode"],
	})
	.meta({ id: "NewStockItem" });

const newMove = z
	.strictObject({
		kind: z.enum(["received", "used", "counted", "thrown away"]),
		quantity: whole.meta({ description: "Whole units; what was found where it was counted" }),
		at: instant.optional().meta({ description: "Without it: now" }),
		byCode: code.optional(),
		note: z.string().trim().min(1).max(200).optional(),
		expiresOn: z.iso.date().optional().meta({ description: "Of what was received" }),
	})
	.meta({ id: "NewItemMove" });

const item = z
	.strictObject({
		code: z.string(),
		kind,
		holderCode: z.string().nullable(),
		generatorCode: z.string().nullable(),
		areaCode: z.string(),
		unit,
		held: z.number(),
		expiresOn: z.string().nullable(),
		reorderAt: z.number(),
		orderUpTo: z.number(),
		dueAt: z.string().nullable().meta({ description: "When it must be got anew; none: nothing brings it about" }),
	})
	.meta({ id: "StockItem" });

const sorts = { code: { column: "i.code", property: "code", kind: "text" } } as const satisfies Record<string, Sort>;
const query = pageQuery(sorts, { kind: kind.optional(), area: code.optional(), holder: code.optional() });

type Item = z.output<typeof item>;
type Row = Pick<Item, "code" | "kind" | "holderCode" | "generatorCode" | "areaCode" | "unit" | "held" | "expiresOn"> & {
	id: string;
};

const SELECT = `SELECT i.id, i.code, i.kind, p.code AS holder_code, g.code AS generator_code, a.code AS area_code, i.unit, i.held, i.expires_on
	FROM stock_item i JOIN area a ON a.id = i.area_id LEFT JOIN person p ON p.id = i.holder_id LEFT JOIN generator g ON g.id = i.generator_id`;

@Controller()
export class StockItemsController {
	constructor(
		private readonly store: Store,
		private readonly items: StockItems,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "GET",
		path: "/stock-items",
		access: "look",
		touches: ["list", "area query.area", "person query.holder"],
		summary: "Lists salt, reagents and gear with what is left of them",
		answer: { description: "Items, by code", schema: pageSchema(item) },
	})
	async listItems(@Query({ schema: query }) asked: z.output<typeof query>, @ByCaller() caller: Caller) {
		const areaId = await idIfNamed(this.store, "area", asked.area, "area");
		const holderId = await idIfNamed(this.store, "person", asked.holder, "holder");
		const conditions = new Conditions(caller.reach.over("stock item", "i"));
		conditions.addIf(asked.kind, (place, value) => `i.kind = ${place(value)}`);
		conditions.addIf(areaId, (place, value) => withinArea("i.area_id", place(value)));
		conditions.addIf(holderId, (place, value) => `i.holder_id = ${place(value)}`);
		const page = await pageOf<Row, Row>(this.store, SELECT, "i.id", sorts, asked, conditions, (row) => row);
		return { ...page, items: await this.told(page.items) };
	}

	@Endpoint({
		method: "POST",
		path: "/stock-items",
		access: "lead",
		touches: ["person body.holderCode", "generator body.generatorCode"],
		summary: "Puts salt, a reagent or gear on file with its holder",
		answer: { status: 201, description: "The item", schema: item },
	})
	async registerItem(@Body({ schema: newItem }) given: z.output<typeof newItem>): Promise<Item> {
		return this.one(await this.items.register(given));
	}

	@Endpoint({
		method: "POST",
		path: "/stock-items/:code/moves",
		access: "work",
		touches: ["stock item path.code"],
		by: "byCode",
		summary: "Keeps that some of an item came, was used, counted or thrown away",
		answer: { status: 201, description: "The item as it is then", schema: item },
	})
	async moveItem(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: newMove }) given: z.output<typeof newMove>,
	): Promise<Item> {
		const byPersonId = (await idIfNamed(this.store, "person", given.byCode, "/byCode")) ?? null;
		const { kind: of, quantity, at, note = null, expiresOn = null } = given;
		return this.one(
			await this.items.move(named.code, { kind: of, quantity, atMs: at ?? this.clock.nowMs(), byPersonId, note, expiresOn }),
		);
	}

	private async one(id: string): Promise<Item> {
		const [only] = await this.told(await this.store.query<Row>(`${SELECT} WHERE i.id = $1`, [id]));
		return only as Item;
	}

	private async told(rows: readonly Row[]): Promise<Item[]> {
		const levels = await levelledItems(
			this.store,
			rows.map(({ id }) => id),
			await currentPolicy(this.store),
			this.clock.nowMs(),
		);
		return rows.map(({ id, ...row }) => {
			const of = levels.get(id)?.levels;
			return { ...row, reorderAt: of?.reorderAt ?? 0, orderUpTo: of?.orderUpTo ?? 0, dueAt: utcOrNull(of?.dueAtMs ?? null) };
		});
	}
}
