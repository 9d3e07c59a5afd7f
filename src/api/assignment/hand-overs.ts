import { Body, Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { HandOvers } from "../../duties/hand-overs.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, code } from "../edge/fields.js";
import { by, counts, localDate } from "./schemas.js";

const leaving = z
	.strictObject({
		reason: z.enum(["ill", "on leave", "left"]),
		from: localDate.optional().meta({ description: "Left out: today. A later day is noted, and handed over on the day" }),
		until: localDate.optional().meta({ description: "The last day; left out: not known, or for good" }),
		toPersonCode: code.optional().meta({ description: "Who gets everything; left out: it is proposed among those who are left" }),
		...by,
	})
	.meta({ id: "Leaving" });

const left = z
	.strictObject({ handedOver: counts, proposalId: z.string().nullable().meta({ description: "Where it is proposed" }) })
	.meta({ id: "Left" });

const returning = z
	.strictObject({
		takeBack: z.boolean().default(true).meta({ description: "true: what was given to others because of it is hers again" }),
		...by,
	})
	.meta({ id: "Returning" });

@Controller()
export class HandOversController {
	constructor(private readonly handOvers: HandOvers) {}

	@Endpoint({
		method: "POST",
		path: "/people/:code/hand-over",
		access: "office",
		summary: "Hands a volunteer's households, jars and open tasks over who is ill, on leave or has left",
		description:
			"To a named person in one step, or by a proposal among those who are left. Tasks keep their codes. Both people are told. Nothing new is given to whoever is away.",
		answer: { description: "She is away; what changed hands, or where it is proposed", schema: left },
	})
	async handOver(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: leaving }) { reason, from, until, toPersonCode, byPersonCode }: z.output<typeof leaving>,
	): Promise<z.output<typeof left>> {
		const given = { reason, fromOn: from, untilOn: until, toCode: toPersonCode, byCode: byPersonCode };
		const { handedOver, proposal } = await this.handOvers.leave(named.code, given);
		return { handedOver, proposalId: proposal?.id ?? null };
	}

	@Endpoint({
		method: "POST",
		path: "/people/:code/return",
		access: "office",
		summary: "Takes a volunteer back who was away, with what was hers if wanted",
		answer: { description: "She is at work again; what she has back", schema: counts },
	})
	async comeBack(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: returning }) { takeBack, byPersonCode }: z.output<typeof returning>,
	): Promise<z.output<typeof counts>> {
		return { ...(await this.handOvers.comeBack(named.code, takeBack, byPersonCode)) };
	}
}
