import { Body, Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { StrengthReadings } from "../../duties/strength-readings.js";
import { currentPolicy } from "../../programme/policy.js";
import type { Forecast } from "../../stock/forecast.js";
import { kitNamed, readingOnScale } from "../../stock/kits.js";
import type { StrengthTestRow } from "../../stock/rows.js";
import { Store } from "../../store/store.js";
import { only } from "../../store/unit-of-work.js";
import { Clock } from "../../time/clock.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, code, instant } from "../edge/fields.js";
import { idIfNamed } from "../edge/named.js";
import { forecastSchema, forecastView } from "./forecast-view.js";
import { testSchema, testView } from "./test-view.js";

const newTest = z
	.strictObject({
		testedAt: instant.optional().meta({ description: "Without it: now" }),
		testerCode: code.optional(),
		kit: z.string().trim().min(1).max(60).optional().meta({ description: "Without it: the programme's kit" }),
		sampleMl: z.number().min(0.05).max(100).meta({ description: "mL of bleach..." }),
		madeUpToL: z.number().max(20).meta({ description: "...made up to so many litres with water" }),
		reading: z.string().trim().min(1).max(20).meta({ description: "As it was read on the kit; with + behind it: this or more" }),
	})
	.refine((test) => test.madeUpToL >= test.sampleMl / 1000, { error: "must not be less than the sample", path: ["madeUpToL"] })
	.meta({ id: "NewStrengthTest" });

const recorded = z
	.strictObject({
		test: testSchema,
		forecast: forecastSchema.nullable().meta({ description: "null: by what is on file of the batch there is none" }),
	})
	.meta({ id: "RecordedTest" });

@Controller()
export class StrengthTestsController {
	constructor(
		private readonly store: Store,
		private readonly readings: StrengthReadings,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "POST",
		path: "/batches/:code/strength-tests",
		access: "work",
		touches: ["batch path.code"],
		by: "testerCode",
		summary: "Keeps a test of a batch and forecasts it anew; a task that asks for the test is answered by it",
		answer: { status: 201, description: "The test, and what is believed of the batch after it", schema: recorded },
	})
	async recordTest(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: newTest }) given: z.output<typeof newTest>,
	): Promise<z.output<typeof recorded>> {
		const testerId = await idIfNamed(this.store, "person", given.testerCode, "/testerCode");
		const kit = given.kit ?? (await currentPolicy(this.store)).testKit;
		// A reading that is off the scale is told to the volunteer where it answers her task; who sends it here is told here.
		readingOnScale(kitNamed(kit), given.reading);
		const { sampleMl, madeUpToL, reading } = given;
		const testedAtMs = given.testedAt ?? this.clock.nowMs();
		await this.readings.record(named.code, { testedAtMs, testerId: testerId ?? null, kit, sampleMl, madeUpToL, reading });
		return this.lastKept(named.code);
	}

	/** The test that was just kept, and the forecast that was kept with it; ids sort by the time of their making. */
	private async lastKept(code: string): Promise<z.output<typeof recorded>> {
		const [row] = await this.store.query<StrengthTestRow & { flags: unknown; forecast: string | null }>(
			"SELECT t.*, b.forecast FROM strength_test t JOIN batch b ON b.id = t.batch_id WHERE b.code = $1 ORDER BY t.id DESC LIMIT 1",
			[code],
		);
		const { forecast, ...test } = only(row ? [row] : []);
		return {
			test: testView({ ...test, flags: JSON.parse(String(test.flags)) as string[] }),
			forecast: forecast === null ? null : forecastView(JSON.parse(forecast) as Forecast),
		};
	}
}
