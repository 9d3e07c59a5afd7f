import { Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { withoutSecrets } from "../../log/log.js";
import { Failures } from "../../messages/failures.js";
import { Endpoint } from "../edge/endpoint.js";
import { utc, utcOf } from "../edge/fields.js";

const byId = z.strictObject({ id: z.string().regex(/^[0-9a-z]{1,40}$/, "is an id of small letters and digits") });

const failedTry = z
	.strictObject({ failedAt: utc, channel: z.string(), forGood: z.boolean(), reason: z.string() })
	.meta({ id: "FailedTry" });
const failedTries = z.strictObject({ items: z.array(failedTry) }).meta({ id: "FailedTries" });
const sentAgain = z.strictObject({ messages: z.int() }).meta({ id: "SentAgain" });

@Controller()
export class ReplaysController {
	constructor(private readonly failures: Failures) {}

	@Endpoint({
		method: "GET",
		path: "/messages/:id/failed-tries",
		access: "oversee",
		touches: ["message path.id"],
		summary: "Tells why a message could not be delivered, try by try",
		answer: { description: "Failed tries, the first one first", schema: failedTries },
	})
	async listFailedTries(@Param({ schema: byId }) { id }: z.output<typeof byId>): Promise<z.output<typeof failedTries>> {
		const tries = await this.failures.of(id);
		return {
			items: tries.map(({ failedAtMs, channel, forGood, reason }) => ({
				failedAt: utcOf(failedAtMs),
				channel,
				forGood,
				reason: withoutSecrets(reason),
			})),
		};
	}

	@Endpoint({
		method: "POST",
		path: "/messages/:id/replay",
		access: "lead",
		touches: ["message path.id"],
		summary: "Sends a message that had failed again",
		answer: { description: "It waits to be sent", schema: sentAgain },
	})
	async replayMessage(@Param({ schema: byId }) { id }: z.output<typeof byId>): Promise<z.output<typeof sentAgain>> {
		await this.failures.replay(id);
		return { messages: 1 };
	}

	@Endpoint({
		method: "POST",
		path: "/messages/replay-failed",
		access: "administer",
		touches: ["whole"],
		summary: "Sends every message that had failed again, up to a thousand",
		answer: { description: "How many wait to be sent", schema: sentAgain },
	})
	async replayFailed(): Promise<z.output<typeof sentAgain>> {
		return { messages: await this.failures.replayAll() };
	}
}
