import type { FastifyReply, FastifyRequest } from "fastify";
import type { Log } from "../../log/log.js";

/** Asked every few seconds by whoever watches the service. */
const ASKED_OFTEN = new Set(["/health/live", "/health/ready", "/metrics"]);

/** One line a request: its route, never its address, body or header fields, which may hold names, numbers and keys. */
export function logRequest(log: Log, request: FastifyRequest, reply: FastifyReply): void {
	const route = routePattern(request);
	const line = {
		requestId: request.id,
		method: request.method,
		route,
		status: reply.statusCode,
		durationMs: Math.round(reply.elapsedTime * 10) / 10,
	};
	if (ASKED_OFTEN.has(route)) log.debug(line, "request");
	else log.info(line, "request");
}

/** @returns the route as it was written, `/batches/:code`; "none" where no route fits */
export function routePattern(request: FastifyRequest): string {
	return request.is404 ? "none" : (request.routeOptions.url ?? "none");
}
