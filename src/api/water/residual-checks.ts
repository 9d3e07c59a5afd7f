import { Body, Controller } from "@nestjs/common";
import { z } from "zod";
import { Store } from "../../store/store.js";
import { Clock } from "../../time/clock.js";
import { Water } from "../../water/water.js";
import { Endpoint } from "../edge/endpoint.js";
import { code, instant, utc, utcOf } from "../edge/fields.js";
import { idIfNamed } from "../edge/named.js";

const newCheck = z
	.strictObject({
		containerCode: code,
		checkedAt: instant.optional().meta({ description: "Without it: now" }),
		freeChlorineMgPerL: z.number().min(0).max(20),
		checkerCode: code.optional().meta({ description: "Code of a person" }),
	})
	.meta({ id: "NewResidualCheck" });

const check = z
	.strictObject({
		id: z.string(),
		containerCode: z.string(),
		checkedAt: utc,
		freeChlorineMgPerL: z.number(),
		hoursSinceDose: z.number().nullable().meta({ description: "null: no dose is known that it could tell of" }),
	})
	.meta({ id: "RecordedResidualCheck" });

@Controller()
export class ResidualChecksController {
	constructor(
		private readonly store: Store,
		private readonly water: Water,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "POST",
		path: "/residual-checks",
		access: "office",
		summary: "Keeps how much free chlorine was read in a container's water",
		answer: { status: 201, description: "The check as it is kept", schema: check },
	})
	async recordResidualCheck(@Body({ schema: newCheck }) given: z.output<typeof newCheck>): Promise<z.output<typeof check>> {
		const { checkedAt = this.clock.nowMs(), containerCode, freeChlorineMgPerL } = given;
		const checkerId = await idIfNamed(this.store, "person", given.checkerCode, "/checkerCode");
		const { id, hoursSinceDose } = await this.water.recordResidual({
			containerCode,
			freeChlorineMgPerL,
			checkedAtMs: checkedAt,
			checkerId: checkerId ?? null,
		});
		return { id, containerCode, checkedAt: utcOf(checkedAt), freeChlorineMgPerL, hoursSinceDose };
	}
}
