import { Body, Controller, Param } from "@nestjs/common";
import { z } from "zod";
import type { Caller } from "../../access/caller.js";
import { Consents } from "../../personal/consents.js";
import { Erasure } from "../../personal/erasure.js";
import { OwnData } from "../../personal/own-data.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, instant, utc, utcOf, utcOrNull } from "../edge/fields.js";

const purpose = z
	.enum(["records", "messages"])
	.meta({ description: "records: that name, number and work are kept; messages: that she is written to" });
const manner = z.enum(["in person", "on paper", "by phone", "by message", "on a page"]);

const given = z
	.strictObject({
		purpose,
		textVersion: z
			.string()
			.trim()
			.min(1)
			.max(100)
			.meta({ description: "Which version of the programme's text she was told or read" }),
		obtained: manner,
		givenAt: instant,
	})
	.meta({ id: "GivenConsent" });

const takenBack = z.strictObject({ purpose, by: manner }).meta({ id: "WithdrawnConsent" });

const consent = z
	.strictObject({
		purpose,
		textVersion: z.string(),
		obtained: manner,
		givenAt: utc,
		recordedAt: utc,
		withdrawnAt: utc.nullable(),
		withdrawnBy: manner.nullable(),
	})
	.meta({ id: "Consent" });
const consents = z.strictObject({ items: z.array(consent) }).meta({ id: "Consents" });

const ownCopy = z
	.strictObject({
		code: z.string(),
		held: z.array(
			z.strictObject({
				table: z.string(),
				by: z.array(z.string()).meta({ description: "Which columns name her" }),
				rows: z.array(z.record(z.string(), z.unknown())),
			}),
		),
	})
	.meta({ id: "OwnData" });

const erased = z.strictObject({ code: z.string(), cleared: z.record(z.string(), z.int()) }).meta({ id: "ErasedPerson" });

@Controller()
export class OwnDataController {
	constructor(
		private readonly ownData: OwnData,
		private readonly erasure: Erasure,
		private readonly consents: Consents,
	) {}

	@Endpoint({
		method: "GET",
		path: "/people/:code/own-data",
		access: "administer",
		touches: ["person path.code"],
		summary: "Copies everything that is held about a person, for herself",
		description:
			"Names and numbers in full. What is about others, such as the households that she looks after, is there by its code alone.",
		answer: { description: "Rows by table", schema: ownCopy },
	})
	async copyOwnData(@Param({ schema: byCode }) named: z.output<typeof byCode>): Promise<z.output<typeof ownCopy>> {
		const { code, held } = await this.ownData.of(named.code);
		return { code, held: held.map(({ table, by, rows }) => ({ table, by: [...by], rows: [...rows] })) };
	}

	@Endpoint({
		method: "POST",
		path: "/people/:code/erasure",
		access: "administer",
		touches: ["person path.code"],
		summary: "Erases what is held about a person; codes and figures stay",
		description: "It can't be undone. Refused while households or open tasks are hers: hand them over first.",
		answer: { description: "How much was cleared", schema: erased },
	})
	async erasePerson(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@ByCaller() caller: Caller,
	): Promise<z.output<typeof erased>> {
		return { code: named.code, cleared: await this.erasure.erase(named.code, caller.actor) };
	}

	@Endpoint({
		method: "GET",
		path: "/people/:code/consents",
		access: "oversee",
		touches: ["person path.code"],
		summary: "Lists what a person has consented to, and taken back",
		answer: { description: "Consents, the first one first", schema: consents },
	})
	async listConsents(@Param({ schema: byCode }) named: z.output<typeof byCode>): Promise<z.output<typeof consents>> {
		const rows = await this.consents.of(named.code);
		return {
			items: rows.map(({ purpose: what, textVersion, obtained, givenAtMs, recordedAtMs, withdrawnAtMs, withdrawnBy }) => ({
				...{ purpose: what, textVersion, obtained, givenAt: utcOf(givenAtMs), recordedAt: utcOf(recordedAtMs) },
				...{ withdrawnAt: utcOrNull(withdrawnAtMs), withdrawnBy },
			})),
		};
	}

	@Endpoint({
		method: "POST",
		path: "/people/:code/consents",
		access: "lead",
		touches: ["person path.code"],
		summary: "Records what a person has consented to",
		description: "One to messages lifts an earlier stop. The same again changes nothing.",
		answer: { status: 201, description: "What she has consented to", schema: consents },
	})
	async giveConsent(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: given }) one: z.output<typeof given>,
	) {
		const { givenAt, ...consentGiven } = one;
		await this.consents.give(named.code, { ...consentGiven, givenAtMs: givenAt });
		return this.listConsents(named);
	}

	@Endpoint({
		method: "POST",
		path: "/people/:code/consents/withdrawal",
		access: "lead",
		touches: ["person path.code"],
		summary: "Records that a person has taken back a consent",
		description: "Without one to messages nothing goes out to her any more, as after stop.",
		answer: { description: "What she has consented to", schema: consents },
	})
	async takeBackConsent(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: takenBack }) one: z.output<typeof takenBack>,
	) {
		await this.consents.takeBack(named.code, one.purpose, one.by);
		return this.listConsents(named);
	}
}
