import { randomUUID } from "node:crypto";
import { STATUS_CODES } from "node:http";
import type { Socket } from "node:net";
import { FastifyAdapter } from "@nestjs/platform-fastify";
import type { FastifyReply, FastifyRequest } from "fastify";
import { BODY_LIMIT_BYTES } from "./bodies.js";
import { defaultHeaders } from "./headers.js";
import { refusalOf } from "./problem.js";

/**
 * An HTTP server with limits: nothing that comes in can hold it up for long or fill its memory.
 * @param newRequestId names a request; the ledger tells by it where a change came from
 */
export function fastifyAdapter(newRequestId: () => string = randomUUID): FastifyAdapter {
	return new FastifyAdapter({
		bodyLimit: BODY_LIMIT_BYTES,
		requestTimeout: 30_000,
		keepAliveTimeout: 5_000,
		http: { headersTimeout: 10_000, connectionsCheckingInterval: 2_000, maxHeaderSize: 16_384 },
		// What a proxy says of the peer is believed nowhere: access by loopback depends on it.
		trustProxy: false,
		requestIdHeader: false,
		genReqId: () => newRequestId(),
		onProtoPoisoning: "error",
		onConstructorPoisoning: "error",
		// A request that has arrived is answered, also while the service stops.
		return503OnClosing: false,
		routerOptions: { maxParamLength: 128 },
		frameworkErrors: (error: Error, request: FastifyRequest, reply: FastifyReply) => {
			const { status, body } = refusalOf(error, request.id);
			reply
				.code(status)
				.headers({ ...defaultHeaders(request.id), "content-type": "application/problem+json" })
				.send(Buffer.from(JSON.stringify(body)));
		},
		clientErrorHandler: answerUnreadable,
	});
}

/** What isn't HTTP at all, or doesn't come to an end, has no request to answer: the socket itself is written to and closed. */
function answerUnreadable(error: NodeJS.ErrnoException, socket: Socket): void {
	if (error.code === "ECONNRESET" || socket.destroyed) return;
	const wanted = error.code === "ERR_HTTP_REQUEST_TIMEOUT" ? 408 : error.code === "HPE_HEADER_OVERFLOW" ? 431 : 400;
	const requestId = randomUUID();
	const { status, body } = refusalOf(Object.assign(new Error(), { statusCode: wanted }), requestId);
	const text = JSON.stringify(body);
	const headers = {
		...defaultHeaders(requestId),
		"content-type": "application/problem+json",
		"content-length": String(Buffer.byteLength(text)),
		connection: "close",
	};
	const lines = Object.entries(headers).map(([name, value]) => `${name}: ${value}\r\n`);
	if (socket.writable) socket.end(`HTTP/1.1 ${status} ${STATUS_CODES[status]}\r\n${lines.join("")}\r\n${text}`);
	else socket.destroy(error);
}
