import { Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { type BatteryFacts, batteryFacts } from "../../generators/battery-facts.js";
import { carePlan } from "../../generators/care-plan.js";
import { generatorFacts, type RunFacts } from "../../generators/generator-facts.js";
import { currentPolicy } from "../../programme/policy.js";
import { Store } from "../../store/store.js";
import { Clock } from "../../time/clock.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, utc, utcOf, utcOrNull } from "../edge/fields.js";
import { idInPath } from "../edge/named.js";
import { batterySchema, batteryView } from "./battery-view.js";
import { powerSource } from "./run-schemas.js";

const run = z
	.strictObject({
		code: z.string(),
		startedAt: utc,
		endedAt: utc.nullable(),
		saltG: z.number(),
		waterL: z.number(),
		powerSource,
		currentA: z.number().nullable(),
		restVoltageV: z.number().nullable(),
		gasSeen: z.boolean().nullable(),
		batchCode: z.string().nullable(),
		isFurther: z.boolean().meta({ description: "Further minutes of a batch that was too weak" }),
		testLowGPerL: z.number().nullable().meta({ description: "Of the test soon after it; null where there was none" }),
		testHighGPerL: z.number().nullable().meta({ description: "null: none, or this or more" }),
	})
	.meta({ id: "GeneratorRun" });

const plannedCare = z
	.strictObject({
		item: z.enum(["rinse", "inspect", "descale", "order electrode"]),
		dueAt: utc.meta({ description: "Expected from the rate of the runs where hours or runs decide" }),
		reason: z.enum(["after the run", "days", "hours", "runs", "efficiency", "scale seen", "electrode life"]),
		figure: z.number().meta({ description: "What decides, in the reason's unit" }),
		limit: z.number(),
	})
	.meta({ id: "PlannedCare" });

const inFull = z
	.strictObject({
		code: z.string(),
		name: z.string(),
		areaCode: z.string(),
		operatorCode: z.string().nullable(),
		inService: z.boolean(),
		ratedCurrentA: z.number(),
		cellsInSeries: z.int(),
		currentEfficiency: z.number().meta({ description: "As it is rated" }),
		batchVolumeL: z.number(),
		saltGPerL: z.number(),
		runsEver: z.int(),
		hoursEver: z.number(),
		efficiency: z.strictObject({
			points: z.array(
				z.strictObject({
					runCode: z.string(),
					endedAt: utc,
					efficiency: z.number(),
					aboveFaraday: z.boolean().meta({ description: "More than the current can make: it counts for nothing" }),
				}),
			),
			recent: z.number().nullable().meta({ description: "Median of the last three runs" }),
			limits: z
				.strictObject({ centre: z.number(), lower: z.number(), upper: z.number() })
				.nullable()
				.meta({ description: "Of the clean cell's first six runs; null until there are as many" }),
			verdict: z.enum(["too few runs", "steady", "needs care"]),
		}),
		electrode: z.strictObject({
			hoursRun: z.number(),
			lowHoursLeft: z.number(),
			medianHoursLeft: z.number(),
			highHoursLeft: z.number().meta({ description: "Nine in ten such electrodes wear out between low and high" }),
		}),
		nextCare: z.array(plannedCare).meta({ description: "The soonest first" }),
		outages: z.array(z.strictObject({ from: utc, until: utc.nullable(), reason: z.string() })),
		batteries: z.array(batterySchema),
		runs: z.array(run).meta({ description: "The newest 120, the oldest first" }),
	})
	.meta({ id: "GeneratorInFull" });

@Controller()
export class GeneratorInFullController {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "GET",
		path: "/generators/:code",
		access: "look",
		touches: ["generator path.code"],
		summary: "Tells one generator: its runs and hours, efficiency and control limits, electrode, next care and why, batteries",
		answer: { description: "The generator", schema: inFull },
	})
	async oneGenerator(@Param({ schema: byCode }) named: z.output<typeof byCode>): Promise<z.output<typeof inFull>> {
		const id = await idInPath(this.store, "generator", named.code);
		const nowMs = this.clock.nowMs();
		const policy = await currentPolicy(this.store);
		const facts = (await generatorFacts(this.store, [id], policy.generators.testWithinHours)).get(id)!;
		const { items, chart, life } = carePlan(facts, policy.generators, nowMs);
		const { generator } = facts;
		return {
			code: generator.code,
			name: generator.name,
			areaCode: generator.areaCode,
			operatorCode: generator.operatorCode,
			inService: generator.inService,
			ratedCurrentA: generator.ratedCurrentA,
			cellsInSeries: generator.cellsInSeries,
			currentEfficiency: generator.currentEfficiency,
			batchVolumeL: generator.batchVolumeL,
			saltGPerL: generator.saltGPerL,
			runsEver: facts.ever.runs,
			hoursEver: facts.ever.hours,
			efficiency: {
				points: chart.points.map(({ endedAtMs, ...point }) => ({ ...point, endedAt: utcOf(endedAtMs) })),
				recent: chart.recentEfficiency,
				limits: chart.limits && { centre: chart.limits.centre, lower: chart.limits.lower, upper: chart.limits.upper },
				verdict:
					chart.belowLimit || chart.care.kind === "needsCare"
						? "needs care"
						: chart.care.kind === "steady"
							? "steady"
							: "too few runs",
			},
			electrode: {
				hoursRun: facts.sinceReplaced.hours,
				lowHoursLeft: life.lowHours,
				medianHoursLeft: life.medianHours,
				highHoursLeft: life.highHours,
			},
			nextCare: items.map(({ dueAtMs, ...item }) => ({ ...item, dueAt: utcOf(dueAtMs) })),
			outages: await this.outagesOf(id),
			batteries: (await this.batteriesOf(id)).map((battery) => batteryView(battery, policy, nowMs)),
			runs: facts.runs.map(runView),
		};
	}

	private async outagesOf(id: string): Promise<z.output<typeof inFull>["outages"]> {
		const rows = await this.store.query<{ fromMs: number; untilMs: number | null; reason: string }>(
			"SELECT from_ms, until_ms, reason FROM generator_outage WHERE generator_id = $1 ORDER BY from_ms",
			[id],
		);
		return rows.map(({ fromMs, untilMs, reason }) => ({ from: utcOf(fromMs), until: utcOrNull(untilMs), reason }));
	}

	private async batteriesOf(id: string): Promise<BatteryFacts[]> {
		const rows = await this.store.query<{ id: string }>(
			"SELECT id FROM battery WHERE generator_id = $1 AND in_use ORDER BY code",
			[id],
		);
		const facts = await batteryFacts(
			this.store,
			rows.map((row) => row.id),
		);
		return rows.map((row) => facts.get(row.id)!);
	}
}

function runView(facts: RunFacts): z.output<typeof run> {
	const { saltG, waterL, currentA, restVoltageV, gasSeen, batchCode, test } = facts;
	return {
		code: facts.code,
		startedAt: utcOf(facts.startedAtMs),
		endedAt: utcOrNull(facts.endedAtMs),
		...{ saltG, waterL, powerSource: facts.powerSource, currentA, restVoltageV, gasSeen, batchCode },
		isFurther: facts.furtherOfRunId !== null,
		testLowGPerL: test?.lowGPerL ?? null,
		testHighGPerL: test?.highGPerL ?? null,
	};
}
