import { createServer, type IncomingHttpHeaders } from "node:http";
import type { AddressInfo } from "node:net";

/** A request as a real server received it. */
export interface ReceivedRequest {
	readonly method: string;
	readonly url: URL;
	readonly headers: IncomingHttpHeaders;
	readonly body: Buffer;
}

export interface PeerAnswer {
	readonly status?: number;
	readonly headers?: Readonly<Record<string, string>>;
	readonly body?: string;
}

/** A real HTTP server on the loopback that answers as the test tells it to. */
export async function httpPeer(answer: (request: ReceivedRequest) => PeerAnswer) {
	const received: ReceivedRequest[] = [];
	const server = createServer((request, response) => {
		const parts: Buffer[] = [];
		request.on("data", (part: Buffer) => parts.push(part));
		request.on("end", () => {
			const { method = "", headers } = request;
			const one = { method, url: new URL(request.url ?? "/", "http://peer"), headers, body: Buffer.concat(parts) };
			received.push(one);
			const { status = 200, headers: fields = {}, body = "" } = answer(one);
			response.writeHead(status, fields).end(body);
		});
	});
	await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
	return {
		received,
		origin: `http://127.0.0.1:${(server.address() as AddressInfo).port}`,
		async close() {
			server.closeAllConnections();
			await new Promise((resolve) => server.close(resolve));
		},
	};
}
