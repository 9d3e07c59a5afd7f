import { Body, Controller } from "@nestjs/common";
import { z } from "zod";
import { ResidualReadings } from "../../duties/residual-readings.js";
import { Store } from "../../store/store.js";
import { Clock } from "../../time/clock.js";
import { Endpoint } from "../edge/endpoint.js";
import { code, instant, utc, utcOf, utcOrNull } from "../edge/fields.js";
import { idIfNamed } from "../edge/named.js";
import { conditionsOf, measuredInWater } from "./measured.js";

const newCheck = z
	.strictObject({
		containerCode: code,
		checkedAt: instant.optional().meta({ description: "Without it: now" }),
		freeChlorineMgPerL: z.number().min(0).max(50),
		offTheScale: z
			.boolean()
			.optional()
			.meta({ description: "true: the kit's last colour, which stands for everything above it; it is judged as above" }),
		checkerCode: code.optional().meta({ description: "Code of a person" }),
		...measuredInWater,
	})
	.meta({ id: "NewResidualCheck" });

const check = z
	.strictObject({
		id: z.string(),
		containerCode: z.string(),
		checkedAt: utc,
		freeChlorineMgPerL: z.number(),
		hoursSinceDose: z.number().nullable().meta({ description: "null: no dose is known that it could tell of" }),
		protocol: z.string().meta({ description: "By which it was judged: code and version" }),
		check: z.string().nullable().meta({ description: "Which of the protocol's checks it answered" }),
		band: z.string().nullable(),
		counted: z.boolean().meta({ description: "false: kept and flagged, because its wait wasn't over or its water is gone" }),
		fitToDrink: z.boolean().nullable().meta({ description: "null where it doesn't count" }),
		action: z.string().nullable().meta({ description: "Code of what the protocol asks for" }),
		bleachMl: z.number().nullable().meta({ description: "More bleach that it asks for" }),
		jar: z.string().nullable().meta({ description: "From which jar" }),
		nextCheckAt: utc.nullable(),
		flags: z.array(z.string()),
	})
	.meta({ id: "RecordedResidualCheck" });

@Controller()
export class ResidualChecksController {
	constructor(
		private readonly store: Store,
		private readonly readings: ResidualReadings,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "POST",
		path: "/residual-checks",
		access: "work",
		touches: ["container body.containerCode"],
		by: "checkerCode",
		summary: "Keeps how much free chlorine was read in a container's water, and tells what it means and what follows",
		description:
			"Judged by the protocol that the water was dosed by. A reading that isn't fit is told to the household's volunteer at once, and to the supervisor where the protocol says so; an open check is answered by it.",
		answer: { status: 201, description: "The check as it is kept", schema: check },
	})
	async recordResidualCheck(@Body({ schema: newCheck }) given: z.output<typeof newCheck>): Promise<z.output<typeof check>> {
		const { checkedAt = this.clock.nowMs(), containerCode, freeChlorineMgPerL, offTheScale, checkerCode, ...measured } = given;
		const checkerId = (await idIfNamed(this.store, "person", checkerCode, "/checkerCode")) ?? null;
		const { outcome, nextDueAtMs, ...row } = await this.readings.record({
			containerCode,
			checkedAtMs: checkedAt,
			reading: `${freeChlorineMgPerL}${offTheScale ? "+" : ""}`,
			checkerId,
			...conditionsOf(measured),
		});
		return {
			...{ id: row.id, containerCode, checkedAt: utcOf(checkedAt), freeChlorineMgPerL, hoursSinceDose: row.hoursSinceDose },
			protocol: String(outcome["protocol"]),
			check: row.moment ?? null,
			band: row.band ?? null,
			counted: outcome["counted"] === true,
			fitToDrink: row.fitToDrink ?? null,
			action: (outcome["action"] as string | null) ?? null,
			bleachMl: (outcome["bleachMl"] as number | undefined) ?? null,
			jar: (outcome["jar"] as string | undefined) ?? null,
			nextCheckAt: utcOrNull(nextDueAtMs),
			flags: [...(row.flags ?? [])],
		};
	}
}
