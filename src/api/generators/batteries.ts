import { Body, Controller, Param, Query } from "@nestjs/common";
import { z } from "zod";
import type { Caller } from "../../access/caller.js";
import { GeneratorRecords } from "../../duties/generator-records.js";
import { batteryFacts } from "../../generators/battery-facts.js";
import { currentPolicy } from "../../programme/policy.js";
import { Store } from "../../store/store.js";
import { Clock } from "../../time/clock.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, code, instant, newStem } from "../edge/fields.js";
import { idIfNamed, idInPath, idNamed, withinArea } from "../edge/named.js";
import { Conditions, pageOf, pageQuery, pageSchema, type Sort } from "../edge/page.js";
import { batterySchema, batteryView } from "./battery-view.js";

const sorts = { code: { column: "b.code", property: "code", kind: "text" } } as const satisfies Record<string, Sort>;
const query = pageQuery(sorts, {
	area: code.optional().meta({ description: "Code of an area; those below it count too" }),
	generator: code.optional().meta({ description: "Code of a generator" }),
});

const by = { byPersonCode: code.optional().meta({ description: "Without it: somebody at the office" }) };

const newBattery = z
	.strictObject({
		code: newStem,
		areaCode: code,
		generatorCode: code.nullable().default(null),
		ratedAh: z.number().min(1).max(2000).meta({ description: "Capacity on the label, A h" }),
		ratedHours: z.number().min(1).max(100).default(20).meta({ description: "Hours that the label's capacity is rated at" }),
		peukertExponent: z
			.number()
			.min(1)
			.max(1.6)
			.default(1.2)
			.meta({ description: "Flooded 1.2 to 1.6, gel 1.1 to 1.25, AGM 1.05 to 1.15" }),
		since: instant.optional().meta({ description: "In use since, full; without it: now" }),
	})
	.meta({ id: "NewBattery" });

const newReading = z
	.strictObject({
		restVoltageV: z.number().min(-1000).max(1000).meta({ description: "At the posts, 0 to 20 V" }),
		restHours: z.number().min(0).max(10_000).default(6).meta({ description: "Without load or charger before it; 6 are needed" }),
		readAt: instant.optional().meta({ description: "Without it: now" }),
		...by,
	})
	.meta({ id: "NewBatteryReading" });

const work = z
	.strictObject({
		work: z
			.enum(["charged", "replaced"])
			.meta({ description: "charged: until it was full; replaced: by another of the same label" }),
		doneAt: instant.optional().meta({ description: "Without it: now" }),
		...by,
	})
	.meta({ id: "BatteryWork" });

@Controller()
export class BatteriesController {
	constructor(
		private readonly store: Store,
		private readonly records: GeneratorRecords,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "GET",
		path: "/batteries",
		access: "look",
		touches: ["list", "area query.area", "generator query.generator"],
		summary: "Lists batteries with what is believed of their charge",
		answer: { description: "Batteries, by code", schema: pageSchema(batterySchema) },
	})
	async listBatteries(@Query({ schema: query }) asked: z.output<typeof query>, @ByCaller() caller: Caller) {
		const areaId = await idIfNamed(this.store, "area", asked.area, "area");
		const generatorId = await idIfNamed(this.store, "generator", asked.generator, "generator");
		const conditions = new Conditions(caller.reach.over("battery", "b"));
		conditions.addIf(areaId, (place, value) => withinArea("b.area_id", place(value)));
		conditions.addIf(generatorId, (place, value) => `b.generator_id = ${place(value)}`);
		const page = await pageOf<{ id: string; code: string }, string>(
			this.store,
			"SELECT b.id, b.code FROM battery b",
			"b.id",
			sorts,
			asked,
			conditions,
			({ id }) => id,
		);
		const facts = await batteryFacts(this.store, page.items);
		const policy = await currentPolicy(this.store);
		return { items: page.items.map((id) => batteryView(facts.get(id)!, policy, this.clock.nowMs())), next: page.next };
	}

	@Endpoint({
		method: "GET",
		path: "/batteries/:code",
		access: "look",
		touches: ["battery path.code"],
		summary: "Tells one battery",
		answer: { description: "The battery", schema: batterySchema },
	})
	async oneBattery(@Param({ schema: byCode }) named: z.output<typeof byCode>): Promise<z.output<typeof batterySchema>> {
		return this.viewOf(await idInPath(this.store, "battery", named.code));
	}

	@Endpoint({
		method: "POST",
		path: "/batteries",
		access: "lead",
		touches: ["area body.areaCode", "generator body.generatorCode"],
		summary: "Puts a battery on file, full",
		answer: { status: 201, description: "The battery", schema: batterySchema },
	})
	async registerBattery(
		@Body({ schema: newBattery }) given: z.output<typeof newBattery>,
	): Promise<z.output<typeof batterySchema>> {
		const areaId = await idNamed(this.store, "area", given.areaCode, "/areaCode");
		const generatorId = (await idIfNamed(this.store, "generator", given.generatorCode ?? undefined, "/generatorCode")) ?? null;
		const { ratedAh, ratedHours, peukertExponent, since } = given;
		const label = { ratedAh, ratedHours, peukertExponent };
		const row = await this.records.battery({
			code: given.code,
			areaId,
			generatorId,
			...label,
			sinceMs: since ?? this.clock.nowMs(),
		});
		return this.viewOf(row.id);
	}

	@Endpoint({
		method: "POST",
		path: "/batteries/:code/readings",
		access: "work",
		touches: ["battery path.code"],
		by: "byPersonCode",
		summary: "Keeps a voltage at rest; a task that asks for it is closed",
		answer: { status: 201, description: "The battery after it", schema: batterySchema },
	})
	async read(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: newReading }) given: z.output<typeof newReading>,
	): Promise<z.output<typeof batterySchema>> {
		const batteryId = await idInPath(this.store, "battery", named.code);
		const readerId = (await idIfNamed(this.store, "person", given.byPersonCode, "/byPersonCode")) ?? null;
		const { restVoltageV, restHours } = given;
		await this.records.batteryRead({
			batteryId,
			restVoltageV,
			restHours,
			readerId,
			readAtMs: given.readAt ?? this.clock.nowMs(),
		});
		return this.viewOf(batteryId);
	}

	@Endpoint({
		method: "POST",
		path: "/batteries/:code/care",
		access: "work",
		touches: ["battery path.code"],
		by: "byPersonCode",
		summary: "Keeps that a battery was charged, or that another one was put in its place",
		answer: { status: 201, description: "The battery after it; the new one where it was replaced", schema: batterySchema },
	})
	async careForBattery(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: work }) given: z.output<typeof work>,
	): Promise<z.output<typeof batterySchema>> {
		const batteryId = await idInPath(this.store, "battery", named.code);
		const byPersonId = (await idIfNamed(this.store, "person", given.byPersonCode, "/byPersonCode")) ?? null;
		const doneAtMs = given.doneAt ?? this.clock.nowMs();
		if (given.work === "replaced") return this.viewOf((await this.records.batteryReplaced(batteryId, doneAtMs, byPersonId)).id);
		await this.records.batteryCharged(batteryId, doneAtMs, byPersonId);
		return this.viewOf(batteryId);
	}

	private async viewOf(id: string): Promise<z.output<typeof batterySchema>> {
		const facts = await batteryFacts(this.store, [id]);
		return batteryView(facts.get(id)!, await currentPolicy(this.store), this.clock.nowMs());
	}
}
