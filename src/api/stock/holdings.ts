import { Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { currentPolicy, type Policy } from "../../programme/policy.js";
import { strengthAhead } from "../../science/outlook.js";
import { type HeldJar, heldJars, type Whose } from "../../stock/holdings.js";
import { Calendars } from "../../stock/places.js";
import { reckonStocks } from "../../stock/reckoning.js";
import { isUsable, sumAt } from "../../stock/restock.js";
import { Store } from "../../store/store.js";
import { Clock } from "../../time/clock.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, utc, utcOf, utcOrNull } from "../edge/fields.js";
import { idNamed, withinArea } from "../edge/named.js";

const holding = {
	code: z.string(),
	asOf: utc,
	heldMl: z.number().meta({ description: "On the books, usable or not" }),
	usableMl: z.number().meta({ description: "In jars that may be dosed by today" }),
	chlorineG: z.strictObject({ expected: z.number(), low: z.number(), high: z.number() }).meta({
		description:
			"Available chlorine in the usable bleach, g, by its forecast strength; 90 % of the belief lies between low and high",
	}),
	jars: z.array(
		z
			.strictObject({
				code: z.string(),
				heldMl: z.number(),
				usable: z.boolean(),
				strengthGPerL: z.number().meta({ description: "Expected now" }),
				madeAt: utc,
			})
			.meta({ id: "JarInStock" }),
	),
};
const stock = z.strictObject(holding).meta({ id: "Stock" });

const personStock = z
	.strictObject({
		...holding,
		chlorineGPerDay: z.number().meta({ description: "What the households need a day, this month, g" }),
		reorderG: z.number().meta({ description: "At or under this much bleach is collected, g" }),
		expectedMl: z.number().meta({ description: "Usable, less what is usually used since the stock was last told of, mL" }),
		collectAt: utc.nullable().meta({ description: "When the stock will have fallen to that level" }),
		collectMl: z.number(),
		outAt: utc.nullable().meta({ description: "When nothing usable will be left, if nothing is collected" }),
		productionPoint: z.string().nullable(),
	})
	.meta({ id: "PersonStock" });

type Stock = z.output<typeof stock>;

@Controller()
export class HoldingsController {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly calendars: Calendars,
	) {}

	@Endpoint({
		method: "GET",
		path: "/people/:code/stock",
		access: "look",
		touches: ["person path.code"],
		summary: "Tells what bleach a volunteer has, how long it lasts, and when she collects",
		answer: { description: "Her stock", schema: personStock },
	})
	async personStock(@Param({ schema: byCode }) named: z.output<typeof byCode>): Promise<z.output<typeof personStock>> {
		const id = await idNamed(this.store, "person", named.code, "code");
		const held = await this.told("keeper", [id], named.code);
		const nowMs = this.clock.nowMs();
		const reckoned = (await reckonStocks(this.store, this.calendars, [id], await currentPolicy(this.store), nowMs)).get(id);
		return {
			...held,
			chlorineGPerDay: round(reckoned?.useNow.gPerDay ?? 0, 5),
			reorderG: round(reckoned?.restock.reorderG ?? 0, 3),
			expectedMl: round(reckoned?.restock.usableMl ?? held.usableMl, 1),
			collectAt: utcOrNull(reckoned?.restock.dueAtMs ?? null),
			collectMl: reckoned?.restock.collectMl ?? 0,
			outAt: utcOrNull(reckoned?.restock.outAtMs ?? null),
			productionPoint: reckoned?.point?.code ?? null,
		};
	}

	@Endpoint({
		method: "GET",
		path: "/households/:code/stock",
		access: "look",
		touches: ["household path.code"],
		summary: "Tells what bleach stands in a household",
		answer: { description: "Its stock", schema: stock },
	})
	async householdStock(@Param({ schema: byCode }) named: z.output<typeof byCode>): Promise<Stock> {
		return this.told("household", [await idNamed(this.store, "household", named.code, "code")], named.code);
	}

	@Endpoint({
		method: "GET",
		path: "/generators/:code/stock",
		access: "look",
		touches: ["generator path.code"],
		summary: "Tells what bleach stands at a generator's production point",
		answer: { description: "Its stock", schema: stock },
	})
	async pointStock(@Param({ schema: byCode }) named: z.output<typeof byCode>): Promise<Stock> {
		return this.told("point", [await idNamed(this.store, "generator", named.code, "code")], named.code);
	}

	@Endpoint({
		method: "GET",
		path: "/areas/:code/stock",
		access: "oversee",
		touches: ["area path.code"],
		summary: "Tells what bleach an area has, with those below it",
		answer: { description: "Its stock", schema: stock },
	})
	async areaStock(@Param({ schema: byCode }) named: z.output<typeof byCode>): Promise<Stock> {
		const id = await idNamed(this.store, "area", named.code, "code");
		const areas = await this.store.query<{ id: string }>(`SELECT a.id FROM area a WHERE ${withinArea("a.id", "$1")}`, [id]);
		return this.told(
			"area",
			areas.map((area) => area.id),
			named.code,
		);
	}

	private async told(whose: Whose, ids: readonly string[], named: string): Promise<Stock> {
		const nowMs = this.clock.nowMs();
		return stockView(named, await heldJars(this.store, whose, ids), await currentPolicy(this.store), nowMs);
	}
}

/** 90 % of a normal lies within 1.645 standard deviations on either side. */
const Z90 = 1.645;

function stockView(named: string, jars: readonly HeldJar[], policy: Policy, nowMs: number): Stock {
	const { ml, g, sdG } = sumAt(jars, nowMs, nowMs, policy);
	return {
		code: named,
		asOf: utcOf(nowMs),
		heldMl: jars.reduce((sum, { heldMl }) => sum + heldMl, 0),
		usableMl: ml,
		chlorineG: { expected: round(g, 3), low: round(Math.max(0, g - Z90 * sdG), 3), high: round(g + Z90 * sdG, 3) },
		jars: jars.map((jar) => ({
			code: jar.code,
			heldMl: jar.heldMl,
			usable: isUsable(jar, nowMs, policy),
			strengthGPerL: round(strengthAhead(jar.outlook, nowMs).meanGPerL, 2),
			madeAt: utcOf(jar.madeAtMs),
		})),
	};
}

const round = (value: number, digits: number): number => Number(value.toFixed(digits));
