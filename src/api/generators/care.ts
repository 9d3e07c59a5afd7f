import { Body, Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { GeneratorRecords } from "../../duties/generator-records.js";
import { Store } from "../../store/store.js";
import { Clock } from "../../time/clock.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, code, instant, utc, utcOf } from "../edge/fields.js";
import { idIfNamed, idInPath } from "../edge/named.js";

const by = { byPersonCode: code.optional().meta({ description: "Without it: somebody at the office" }) };

const doneCare = z
	.strictObject({
		works: z
			.array(z.enum(["rinsed", "inspected", "descaled", "electrode replaced", "salt corrected"]))
			.min(1)
			.max(5),
		doneAt: instant.optional().meta({ description: "Without it: now" }),
		look: z.enum(["clean", "scale", "damage"]).optional().meta({ description: "What an inspection saw; without it: clean" }),
		...by,
	})
	.meta({ id: "DoneCare" });

const out = z
	.strictObject({
		from: instant.optional().meta({ description: "Without it: now" }),
		reason: z.string().trim().min(1).max(200),
		...by,
	})
	.meta({ id: "OutOfService" });

const back = z.strictObject({ at: instant.optional().meta({ description: "Without it: now" }), ...by }).meta({ id: "InService" });

const service = z.strictObject({ generatorCode: z.string(), inService: z.boolean(), at: utc }).meta({ id: "ServiceChange" });

const kept = z.strictObject({ generatorCode: z.string(), works: z.array(z.string()), doneAt: utc }).meta({ id: "KeptCare" });

@Controller()
export class GeneratorCareController {
	constructor(
		private readonly store: Store,
		private readonly records: GeneratorRecords,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "POST",
		path: "/generators/:code/care",
		access: "work",
		touches: ["generator path.code"],
		by: "byPersonCode",
		summary: "Keeps what was done for a generator; the task that asks for it is closed where nothing else is due",
		answer: { status: 201, description: "What is kept", schema: kept },
	})
	async careForGenerator(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: doneCare }) given: z.output<typeof doneCare>,
	): Promise<z.output<typeof kept>> {
		const generatorId = await idInPath(this.store, "generator", named.code);
		const byPersonId = (await idIfNamed(this.store, "person", given.byPersonCode, "/byPersonCode")) ?? null;
		const doneAtMs = given.doneAt ?? this.clock.nowMs();
		const works = [...new Set(given.works)];
		await this.records.care({ generatorId, works, doneAtMs, look: given.look ?? null, byPersonId });
		return { generatorCode: named.code, works, doneAt: utcOf(doneAtMs) };
	}

	@Endpoint({
		method: "POST",
		path: "/generators/:code/out-of-service",
		access: "lead",
		touches: ["generator path.code"],
		by: "byPersonCode",
		summary: "Takes a generator out of service: production is planned without it, its open work is closed",
		answer: { description: "The change", schema: service },
	})
	async outOfService(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: out }) given: z.output<typeof out>,
	): Promise<z.output<typeof service>> {
		const generatorId = await idInPath(this.store, "generator", named.code);
		const byPersonId = (await idIfNamed(this.store, "person", given.byPersonCode, "/byPersonCode")) ?? null;
		const fromMs = given.from ?? this.clock.nowMs();
		await this.records.outOfService({ generatorId, fromMs, reason: given.reason, byPersonId });
		return { generatorCode: named.code, inService: false, at: utcOf(fromMs) };
	}

	@Endpoint({
		method: "POST",
		path: "/generators/:code/in-service",
		access: "lead",
		touches: ["generator path.code"],
		by: "byPersonCode",
		summary: "Puts a generator into service again",
		answer: { description: "The change", schema: service },
	})
	async inService(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: back }) given: z.output<typeof back>,
	): Promise<z.output<typeof service>> {
		const generatorId = await idInPath(this.store, "generator", named.code);
		const byPersonId = (await idIfNamed(this.store, "person", given.byPersonCode, "/byPersonCode")) ?? null;
		const untilMs = given.at ?? this.clock.nowMs();
		await this.records.inService({ generatorId, untilMs, byPersonId });
		return { generatorCode: named.code, inService: true, at: utcOf(untilMs) };
	}
}
