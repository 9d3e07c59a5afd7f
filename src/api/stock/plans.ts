import { Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { currentPolicy } from "../../programme/policy.js";
import { plansOf } from "../../stock/planning.js";
import type { ProductionPlan } from "../../stock/production-plan.js";
import { Store } from "../../store/store.js";
import { Clock } from "../../time/clock.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, utc, utcOf, utcOrNull } from "../edge/fields.js";
import { idNamed, withinArea } from "../edge/named.js";

const plan = z
	.strictObject({
		generatorCode: z.string(),
		inService: z.boolean(),
		insteadOf: z.string().nullable().meta({ description: "Out of service: code of the generator that makes it instead" }),
		alsoFor: z.array(z.string()).meta({ description: "Generators out of service whose wants it serves too" }),
		runs: z.number(),
		litres: z.number(),
		waterL: z.number(),
		saltG: z.number(),
		minutes: z.number(),
		chargeAh: z.number().meta({ description: "Of the battery, A h" }),
		reagentDrops: z.number(),
		by: utc.meta({ description: "When the bleach must stand at the production point" }),
		dueAt: utc.nullable().meta({ description: "When it is asked for; none: nothing is needed" }),
		volunteers: z.number(),
		wantedL: z.number(),
		reserveL: z.number(),
		standingL: z.number().meta({ description: "Usable bleach at the point, L of the planned strength" }),
		outAt: utc.nullable().meta({ description: "When the first of its volunteers will have nothing usable left" }),
	})
	.meta({ id: "ProductionPlan" });

const week = z
	.strictObject({
		code: z.string(),
		asOf: utc,
		runs: z.number(),
		litres: z.number(),
		saltG: z.number(),
		waterL: z.number(),
		minutes: z.number(),
		reagentDrops: z.number(),
		shortL: z.number().meta({ description: "Wanted of generators out of service that none in reach makes instead" }),
		plans: z.array(plan),
	})
	.meta({ id: "WeekPlan" });

type Plan = z.output<typeof plan>;

@Controller()
export class PlansController {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "GET",
		path: "/generators/:code/plan",
		access: "look",
		touches: ["generator path.code"],
		summary: "Tells what a generator is to make, with what, and by when",
		answer: { description: "Its plan as of now; 0 runs: nothing is needed", schema: plan },
	})
	async generatorPlan(@Param({ schema: byCode }) named: z.output<typeof byCode>): Promise<Plan> {
		const id = await idNamed(this.store, "generator", named.code, "code");
		const [only] = await this.plans([id]);
		return only as Plan;
	}

	@Endpoint({
		method: "GET",
		path: "/areas/:code/plan",
		access: "oversee",
		touches: ["area path.code"],
		summary: "Tells what an area and those below it are to make in the next week",
		answer: { description: "The plans of its generators, and their sum", schema: week },
	})
	async areaPlan(@Param({ schema: byCode }) named: z.output<typeof byCode>): Promise<z.output<typeof week>> {
		const id = await idNamed(this.store, "area", named.code, "code");
		const generators = await this.store.query<{ id: string }>(
			`SELECT g.id FROM generator g WHERE ${withinArea("g.area_id", "$1")} ORDER BY g.code`,
			[id],
		);
		const plans = await this.plans(generators.map((generator) => generator.id));
		const made = plans.filter(({ inService }) => inService);
		const sum = (of: (one: Plan) => number) => made.reduce((total, one) => total + of(one), 0);
		return {
			code: named.code,
			asOf: utcOf(this.clock.nowMs()),
			runs: sum(({ runs }) => runs),
			litres: sum(({ litres }) => litres),
			saltG: sum(({ saltG }) => saltG),
			waterL: sum(({ waterL }) => waterL),
			minutes: sum(({ minutes }) => minutes),
			reagentDrops: sum(({ reagentDrops }) => reagentDrops),
			shortL: plans
				.filter(({ inService, insteadOf }) => !inService && insteadOf === null)
				.reduce((total, { litres }) => total + litres, 0),
			plans,
		};
	}

	private async plans(ids: readonly string[]): Promise<Plan[]> {
		const planned = await plansOf(this.store, ids, await currentPolicy(this.store), this.clock.nowMs());
		return [...planned.values()].map(({ generator, plan: of, insteadOf, alsoFor }) => ({
			generatorCode: generator.code,
			inService: generator.inService,
			insteadOf: insteadOf?.code ?? null,
			alsoFor: [...alsoFor],
			...figures(of),
		}));
	}
}

function figures({ byMs, dueAtMs, outAtMs, ...rest }: ProductionPlan) {
	return { ...rest, by: utcOf(byMs), dueAt: utcOrNull(dueAtMs), outAt: utcOrNull(outAtMs) };
}
