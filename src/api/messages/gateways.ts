import { Controller, Param, Req } from "@nestjs/common";
import type { FastifyRequest } from "fastify";
import { z } from "zod";
import { Replies } from "../../duties/replies.js";
import { textsIn } from "../../messages/inbound/incoming.js";
import { receiptsIn } from "../../messages/inbound/receipts-in.js";
import { Receipts } from "../../messages/receipts.js";
import type { InboundGateway } from "../../settings/channels/inbound.js";
import { Clock } from "../../time/clock.js";
import { Endpoint } from "../edge/endpoint.js";

const gatewaySchema = z.strictObject({
	gateway: z.string().regex(/^[a-z][a-z0-9-]{0,39}$/, "is lower-case letters, digits and dashes"),
});

const takenReceipts = z
	.strictObject({
		taken: z.int(),
		unknown: z.int().meta({ description: "Of them, for messages that aren't known here, or not yet; they are kept" }),
	})
	.meta({ id: "TakenReceipts" });

const takenTexts = z
	.strictObject({ taken: z.int(), repeated: z.int().meta({ description: "Of them, those that had come before" }) })
	.meta({ id: "TakenTexts" });

/** The gateways that are set up, by name. */
export abstract class Gateways {
	abstract readonly known: Readonly<Record<string, InboundGateway>>;
}

@Controller()
export class GatewaysController {
	constructor(
		private readonly gateways: Gateways,
		private readonly receipts: Receipts,
		private readonly replies: Replies,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "POST",
		path: "/receipts/:gateway",
		access: "gateway",
		summary: "Takes what a gateway tells of messages that it sent",
		description: "Which fields say what, and how the gateway shows itself, stands in JARWATCH_CHANNELS under inbound.",
		consumes: "gateway",
		answer: { description: "How many were taken", schema: takenReceipts },
	})
	takeReceipts(@Param({ schema: gatewaySchema }) { gateway }: z.output<typeof gatewaySchema>, @Req() request: FastifyRequest) {
		const receipts = receiptsIn(this.named(gateway), request.body as Buffer, this.clock.nowMs());
		return this.receipts.take(receipts);
	}

	@Endpoint({
		method: "POST",
		path: "/inbound/:gateway",
		access: "gateway",
		summary: "Takes texts or e-mail that a gateway received",
		description: "Which fields say what, and how the gateway shows itself, stands in JARWATCH_CHANNELS under inbound.",
		consumes: "gateway",
		answer: { description: "How many were taken", schema: takenTexts },
	})
	async takeTexts(
		@Param({ schema: gatewaySchema }) { gateway }: z.output<typeof gatewaySchema>,
		@Req() request: FastifyRequest,
	): Promise<z.output<typeof takenTexts>> {
		const texts = textsIn(this.named(gateway), request.body as Buffer, this.clock.nowMs());
		let repeated = 0;
		// Each by itself: what became of one mustn't depend on another's, and one that was taken before is taken once.
		for (const text of texts) if ((await this.replies.receive(text)).repeated) repeated++;
		return { taken: texts.length, repeated };
	}

	/** Access has been given by the same settings. */
	private named(gateway: string): InboundGateway {
		return this.gateways.known[gateway] as InboundGateway;
	}
}
