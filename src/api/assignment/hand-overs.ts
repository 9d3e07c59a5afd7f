import { Body, Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { volunteerWithAbsence } from "../../duties/absences.js";
import { HandOvers } from "../../duties/hand-overs.js";
import { Store } from "../../store/store.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, code, utc, utcOrNull } from "../edge/fields.js";
import { by, counts, localDate } from "./schemas.js";

const leaving = z
	.strictObject({
		reason: z.enum(["ill", "on leave", "left"]),
		from: localDate
			.optional()
			.meta({ description: "Left out: today. A later day is noted, and handed over on the day by itself" }),
		until: localDate.optional().meta({
			description:
				"The last day: on the next she is back by herself, with what is still with others because of it; left out: not known, or for good",
		}),
		toPersonCode: code.optional().meta({
			description: "Who gets everything; left out, or where she can't on the day: it is proposed among those who are left",
		}),
		...by,
	})
	.meta({ id: "Leaving" });

const left = z
	.strictObject({
		handedOver: counts,
		proposalId: z.string().nullable().meta({ description: "Where it is proposed" }),
		plannedFor: localDate.nullable().meta({ description: "The day on which it is handed over; null: it is done, or proposed" }),
	})
	.meta({ id: "Left" });

const absence = z
	.strictObject({
		reason: z.enum(["ill", "on leave", "left"]),
		from: localDate,
		until: localDate.nullable(),
		toPersonCode: z.string().nullable(),
		begunAt: utc.nullable().meta({ description: "null: it is still to come" }),
	})
	.nullable()
	.meta({ id: "Absence" });
const away = z.strictObject({ absence }).meta({ id: "Away" });

const returning = z
	.strictObject({
		takeBack: z.boolean().default(true).meta({ description: "true: what was given to others because of it is hers again" }),
		...by,
	})
	.meta({ id: "Returning" });

@Controller()
export class HandOversController {
	constructor(
		private readonly store: Store,
		private readonly handOvers: HandOvers,
	) {}

	@Endpoint({
		method: "GET",
		path: "/people/:code/absence",
		access: "oversee",
		touches: ["person path.code"],
		summary: "Tells whether a volunteer is away or will be, and who takes over",
		answer: { description: "null: she is at work, and nothing else is planned", schema: away },
	})
	async absenceOf(@Param({ schema: byCode }) named: z.output<typeof byCode>): Promise<z.output<typeof away>> {
		const { absence: now } = await volunteerWithAbsence(this.store, named.code);
		if (!now) return { absence: null };
		const [to] = await this.store.query<{ code: string }>("SELECT code FROM person WHERE id = $1", [now.toId]);
		const { reason, fromOn, untilOn, beganAtMs } = now;
		return {
			absence: { reason, from: fromOn, until: untilOn, toPersonCode: to?.code ?? null, begunAt: utcOrNull(beganAtMs) },
		};
	}

	@Endpoint({
		method: "POST",
		path: "/people/:code/hand-over",
		access: "lead",
		touches: ["person path.code", "person body.toPersonCode"],
		by: "byPersonCode",
		summary: "Hands a volunteer's households, jars, generators and open tasks over who is ill, on leave or has left",
		description:
			"To a named person in one step, or by a proposal among those who are left. Tasks keep their codes. Both people are told. Nothing new is given to whoever is away. A day to come is carried out when it begins in her area's time zone.",
		answer: { description: "She is away; what changed hands, or where it is proposed", schema: left },
	})
	async handOver(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: leaving }) { reason, from, until, toPersonCode, byPersonCode }: z.output<typeof leaving>,
	): Promise<z.output<typeof left>> {
		const given = { reason, fromOn: from, untilOn: until, toCode: toPersonCode, byCode: byPersonCode };
		const { handedOver, proposal, plannedFor } = await this.handOvers.leave(named.code, given);
		return { handedOver: { ...handedOver }, proposalId: proposal?.id ?? null, plannedFor };
	}

	@Endpoint({
		method: "POST",
		path: "/people/:code/return",
		access: "lead",
		touches: ["person path.code"],
		by: "byPersonCode",
		summary: "Takes a volunteer back who was away, with what was hers if wanted; or takes back an absence that is still to come",
		answer: { description: "She is at work again; what she has back", schema: counts },
	})
	async comeBack(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: returning }) { takeBack, byPersonCode }: z.output<typeof returning>,
	): Promise<z.output<typeof counts>> {
		return { ...(await this.handOvers.comeBack(named.code, takeBack, byPersonCode)) };
	}
}
