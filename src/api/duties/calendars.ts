import { Controller, Param, Res } from "@nestjs/common";
import type { FastifyReply } from "fastify";
import { z } from "zod";
import { CalendarFeeds } from "../../duties/calendar.js";
import { Store } from "../../store/store.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode } from "../edge/fields.js";
import { idNamed } from "../edge/named.js";

const byFile = z.strictObject({ file: z.string().max(100).meta({ description: "The secret, and .ics" }) });
const issued = z
	.strictObject({ path: z.string().meta({ description: "Told this once: whoever has it can read the calendar" }) })
	.meta({ id: "CalendarAddress" });
const revoked = z.strictObject({ revoked: z.boolean() }).meta({ id: "CalendarRevoked" });

@Controller()
export class CalendarsController {
	constructor(
		private readonly store: Store,
		private readonly feeds: CalendarFeeds,
	) {}

	@Endpoint({
		method: "POST",
		path: "/people/:code/calendar",
		access: "work",
		touches: ["person path.code"],
		summary: "Gives a person a private address of her due work, to which a phone's calendar can subscribe",
		description: "An address that she had before ends.",
		answer: { description: "The address", schema: issued, isSecret: true },
	})
	async issueCalendar(@Param({ schema: byCode }) named: z.output<typeof byCode>): Promise<z.output<typeof issued>> {
		const personId = await idNamed(this.store, "person", named.code, "code");
		return { path: `/calendars/${await this.feeds.issue(personId)}.ics` };
	}

	@Endpoint({
		method: "POST",
		path: "/people/:code/calendar/revoke",
		access: "work",
		touches: ["person path.code"],
		summary: "Ends a person's calendar address",
		answer: { description: "Whether there was one", schema: revoked },
	})
	async revokeCalendar(@Param({ schema: byCode }) named: z.output<typeof byCode>): Promise<z.output<typeof revoked>> {
		const personId = await idNamed(this.store, "person", named.code, "code");
		return { revoked: await this.feeds.revoke(personId) };
	}

	@Endpoint({
		method: "GET",
		path: "/calendars/:file",
		access: "calendar",
		summary: "Reads a person's due work as a calendar",
		answer: { description: "iCalendar (RFC 5545)", schema: z.string(), contentType: "text/calendar" },
	})
	async readCalendar(
		@Param({ schema: byFile }) { file }: z.output<typeof byFile>,
		@Res({ passthrough: true }) reply: FastifyReply,
	): Promise<string> {
		const text = await this.feeds.read(file.replace(/\.ics$/, ""));
		void reply.header("content-type", "text/calendar; charset=utf-8");
		return text;
	}
}
