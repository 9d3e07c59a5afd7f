import { Controller, Res } from "@nestjs/common";
import type { FastifyReply } from "fastify";
import { z } from "zod";
import { Endpoint } from "../edge/endpoint.js";
import { Metrics } from "./metrics.js";

@Controller()
export class MetricsController {
	constructor(private readonly metrics: Metrics) {}

	@Endpoint({
		method: "GET",
		path: "/metrics",
		access: "oversee",
		touches: ["whole"],
		summary: "Tells a monitoring system how the service does",
		answer: { description: "Prometheus text format", schema: z.string(), contentType: "text/plain" },
	})
	async tellMetrics(@Res({ passthrough: true }) reply: FastifyReply): Promise<string> {
		const { text, contentType } = await this.metrics.text();
		void reply.header("content-type", contentType);
		return text;
	}
}
