import { Controller } from "@nestjs/common";
import { z } from "zod";
import { Endpoint } from "../edge/endpoint.js";
import { EdgeRefusal } from "../edge/problem.js";
import { Readiness } from "./readiness.js";

const alive = z.strictObject({ alive: z.literal(true) }).meta({ id: "Alive" });

const ready = z
	.strictObject({
		ready: z.literal(true),
		parts: z.array(
			z.strictObject({
				name: z.string(),
				ready: z.boolean(),
				concern: z.string().optional().meta({ description: "What should be mended though it is ready" }),
			}),
		),
	})
	.meta({ id: "Ready" });

@Controller()
export class HealthController {
	constructor(private readonly readiness: Readiness) {}

	@Endpoint({
		method: "GET",
		path: "/health/live",
		access: "open",
		summary: "Says that the process answers",
		answer: { description: "It does", schema: alive },
	})
	live(): z.output<typeof alive> {
		return { alive: true };
	}

	@Endpoint({
		method: "GET",
		path: "/health/ready",
		access: "open",
		summary: "Says whether the service can do its work, and which part can't",
		description: "503 where a part isn't ready; the problem's `parts` say which and why.",
		answer: { description: "It can", schema: ready },
	})
	async ready(): Promise<z.output<typeof ready>> {
		const parts = await this.readiness.parts();
		const missing = parts.filter((part) => !part.ready);
		if (missing.length === 0)
			return { ready: true, parts: parts.map(({ name, concern }) => ({ name, ready: true, ...(concern && { concern }) })) };
		throw new EdgeRefusal(
			503,
			"not-ready",
			`Not ready: ${missing.map(({ name }) => name).join(", ")}.`,
			{ "retry-after": "5" },
			{ parts },
		);
	}
}
