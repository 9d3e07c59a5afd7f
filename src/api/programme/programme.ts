import { Body, Controller, Headers, Res } from "@nestjs/common";
import type { FastifyReply } from "fastify";
import type { z } from "zod";
import { InputError } from "../../errors/errors.js";
import { Endpoint } from "../edge/endpoint.js";
import { changedProgrammeSchema, type Programme, ProgrammeRules, programmeSchema } from "./rules.js";

@Controller()
export class ProgrammeController {
	constructor(private readonly programme: ProgrammeRules) {}

	@Endpoint({
		method: "GET",
		path: "/programme",
		access: "look",
		touches: ["nothing"],
		summary: "Tells the programme's rules",
		answer: { description: "The rules that hold now; ETag is their version", schema: programmeSchema },
	})
	async programmeNow(@Res({ passthrough: true }) reply: FastifyReply) {
		return answered(await this.programme.current(), reply);
	}

	@Endpoint({
		method: "PUT",
		path: "/programme",
		access: "administer",
		touches: ["whole"],
		summary: "Changes the programme's rules",
		description:
			"A rule that isn't given goes back to its default. Forecasts that were made by the rules before stand until their jar's next fact.",
		headers: { "If-Match": "ETag of the rules that the change was made of, or *; without it the change is refused with 428" },
		answer: { description: "The rules that hold now; ETag is their version", schema: programmeSchema },
	})
	async changeProgramme(
		@Body({ schema: changedProgrammeSchema }) wanted: z.output<typeof changedProgrammeSchema>,
		@Headers("if-match") ifMatch: string | undefined,
		@Res({ passthrough: true }) reply: FastifyReply,
	) {
		return answered(await this.programme.change(wanted.name, wanted.rules, versionIn(ifMatch)), reply);
	}
}

function answered({ name, rules, changedAtMs }: Programme, reply: FastifyReply): z.output<typeof programmeSchema> {
	void reply.header("etag", `"${changedAtMs}"`);
	return { name, rules };
}

/**
 * The version that a change was made of.
 * Source: RFC 9110 (2022), sections 8.8.3 and 13.1.1 (strong comparison); RFC 6585 (2012), section 3
 */
function versionIn(ifMatch: string | undefined): number | "any" {
	const text = ifMatch?.trim();
	if (!text)
		throw new InputError("conflict", "Send If-Match with the ETag of the rules that the change was made of.", {
			status: 428,
			problems: [{ at: "If-Match", message: "is needed" }],
		});
	if (text === "*") return "any";
	const version = /^"(\d{1,15})"$/.exec(text)?.[1];
	// What isn't a version of ours matches none.
	return version === undefined ? -1 : Number(version);
}
