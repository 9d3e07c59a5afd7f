import type { FastifyRequest } from "fastify";
import { RateLimiterMemory, RateLimiterRes } from "rate-limiter-flexible";
import { OFFICE } from "../../ledger/acting.js";
import { EdgeRefusal } from "./problem.js";

/**
 * How fast one may ask: counted for each caller, and for each address from which nobody in particular asks, in each process by itself.
 * Whoever has the key of the settings, or sits at the machine, has no limit.
 */
export class Pace {
	private readonly limiter: RateLimiterMemory;

	/** @param requestsPerMinute of one caller */
	constructor(requestsPerMinute: number) {
		this.limiter = new RateLimiterMemory({ points: requestsPerMinute, duration: 60 });
	}

	/** @throws EdgeRefusal 429 that says when to ask again. Source: RFC 6585 (2012), section 4 */
	async take({ caller, peer }: Pick<FastifyRequest, "caller" | "peer">): Promise<void> {
		if (caller?.actor === OFFICE) return;
		try {
			await this.limiter.consume(caller?.actor ?? `from ${peer}`);
		} catch (used) {
			if (!(used instanceof RateLimiterRes)) throw used;
			const seconds = Math.max(1, Math.ceil(used.msBeforeNext / 1000));
			throw new EdgeRefusal(429, "too-many-requests", `Too many requests; ask again in ${seconds} s.`, {
				"retry-after": String(seconds),
			});
		}
	}
}
