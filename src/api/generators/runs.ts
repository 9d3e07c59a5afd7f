import { Body, Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { GeneratorRecords } from "../../duties/generator-records.js";
import type { KeptRun, Product } from "../../generators/runs.js";
import { Store } from "../../store/store.js";
import { only } from "../../store/unit-of-work.js";
import { Clock } from "../../time/clock.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, utcOf, utcOrNull } from "../edge/fields.js";
import { idIfNamed, idInPath } from "../edge/named.js";
import { type GivenProduct, keptRun, newRun, runEnd } from "./run-schemas.js";

@Controller()
export class RunsController {
	constructor(
		private readonly store: Store,
		private readonly records: GeneratorRecords,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "POST",
		path: "/generators/:code/runs",
		access: "work",
		touches: [
			"generator path.code",
			"person body.operatorCode",
			"battery body.batteryCode",
			"generator run body.furtherOfRun",
			"person body.product.keeperCode",
		],
		summary: "Puts a run on file: over, with what it filled, or just begun",
		description:
			"What a finished run filled is registered as a batch, as strong as current, minutes and litres let expect, and is due for a test at once. Further minutes of a weak batch name the run that filled it.",
		answer: { status: 201, description: "The run, and the batch that it filled", schema: keptRun },
	})
	async recordRun(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: newRun }) given: z.output<typeof newRun>,
	): Promise<z.output<typeof keptRun>> {
		const generatorId = await idInPath(this.store, "generator", named.code);
		const operatorId =
			(await idIfNamed(this.store, "person", given.operatorCode, "/operatorCode")) ?? (await this.operatorOf(generatorId)).id;
		const batteryId = (await idIfNamed(this.store, "battery", given.batteryCode, "/batteryCode")) ?? null;
		const furtherOfRunId = (await idIfNamed(this.store, "generator_run", given.furtherOfRun, "/furtherOfRun")) ?? null;
		const { startedAt, endedAt, saltG, waterL, powerSource, rinsed } = given;
		const kept = await this.records.run({
			...(given.code === undefined ? {} : { code: given.code }),
			generatorId,
			operatorId,
			startedAtMs: startedAt,
			endedAtMs: endedAt ?? null,
			saltG,
			waterL,
			powerSource,
			batteryId,
			currentA: given.currentA ?? null,
			restVoltageV: given.restVoltageV ?? null,
			gasSeen: given.gasSeen ?? null,
			furtherOfRunId,
			rinsed,
			product: endedAt === undefined ? null : productOf(given.product),
		});
		return view(named.code, kept);
	}

	@Endpoint({
		method: "POST",
		path: "/generators/:code/runs/end",
		access: "work",
		touches: ["generator path.code", "person body.product.keeperCode"],
		summary: "Ends the run that is going on",
		answer: { description: "The run, and the batch that it filled", schema: keptRun },
	})
	async endRun(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: runEnd }) given: z.output<typeof runEnd>,
	): Promise<z.output<typeof keptRun>> {
		const generatorId = await idInPath(this.store, "generator", named.code);
		const kept = await this.records.endRun(generatorId, {
			endedAtMs: given.endedAt ?? this.clock.nowMs(),
			currentA: given.currentA ?? null,
			gasSeen: given.gasSeen ?? null,
			rinsed: given.rinsed,
			product: productOf(given.product),
		});
		return view(named.code, kept);
	}

	private async operatorOf(generatorId: string): Promise<{ id: string | null }> {
		return only(
			await this.store.query<{ id: string | null }>("SELECT operator_id AS id FROM generator WHERE id = $1", [generatorId]),
		);
	}
}

const USUAL_JAR: NonNullable<GivenProduct> = {
	keeperCode: null,
	wall: "opaque",
	exposure: "indoors",
	litAreaM2: 0,
	ph: null,
	phKnowledge: "not measured",
};

function productOf(given: GivenProduct | undefined): Product | null {
	if (given === null) return null;
	const { code: batchCode, ...rest } = given ?? USUAL_JAR;
	return { ...rest, ...(batchCode === undefined ? {} : { code: batchCode }) };
}

function view(generatorCode: string, { run, batchCode }: KeptRun): z.output<typeof keptRun> {
	const { code: runCode, startedAtMs, endedAtMs } = run;
	return { code: runCode, generatorCode, startedAt: utcOf(startedAtMs), endedAt: utcOrNull(endedAtMs), batchCode };
}
