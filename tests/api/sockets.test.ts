import { type AddressInfo, connect } from "node:net";
import { KEY, type Served, served } from "./served.js";

/** Writes bytes to the listening service and reads until it closes. */
function exchanged(port: number, ...parts: (string | Buffer)[]): Promise<string> {
	return new Promise((resolve, reject) => {
		const socket = connect(port, "127.0.0.1");
		let text = "";
		socket.on("data", (bytes) => {
			text += bytes.toString("utf8");
		});
		socket.on("close", () => resolve(text));
		socket.on("error", (error: NodeJS.ErrnoException) =>
			error.code === "ECONNRESET" || error.code === "EPIPE" ? undefined : reject(error),
		);
		for (const part of parts) socket.write(part);
	});
}

describe("the listening service", () => {
	let api: Served;
	let port: number;
	beforeAll(async () => {
		api = await served("sqlite");
		await api.app.listen(0, "127.0.0.1");
		port = (api.app.getHttpServer().address() as AddressInfo).port;
	});
	afterAll(() => api.close());

	it.each([
		["what isn't HTTP", "hello\r\n\r\n"],
		[
			"two lengths and chunks at once, as request smuggling has it",
			`POST /batches HTTP/1.1\r\nHost: localhost\r\nContent-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n`,
		],
		["two different lengths", "POST /batches HTTP/1.1\r\nHost: localhost\r\nContent-Length: 5\r\nContent-Length: 6\r\n\r\n{}"],
		["a folded header field", "GET /areas HTTP/1.1\r\nHost: localhost\r\nX-A: 1\r\n b: 2\r\n\r\n"],
		["no Host", "GET /areas HTTP/1.1\r\n\r\n"],
	])("answers %s with 400 and closes the connection", async (_, bytes) => {
		const text = await exchanged(port, bytes);
		expect(text).toMatch(/^HTTP\/1\.1 400 Bad Request\r\n/);
		expect(text.toLowerCase()).toContain("connection: close");
	});

	it("answers header fields over 16 KiB with 431, as problem details", async () => {
		const text = await exchanged(port, `GET /areas HTTP/1.1\r\nHost: localhost\r\nX-Long: ${"x".repeat(17_000)}\r\n\r\n`);
		expect(text).toMatch(/^HTTP\/1\.1 431 /);
		const [head, body] = text.split("\r\n\r\n") as [string, string];
		expect(head).toContain("application/problem+json");
		expect(JSON.parse(body)).toMatchObject({ status: 431, code: "request-refused" });
	});

	it("stops reading a body that goes on past 256 KiB without having said how long it is", async () => {
		const head = `POST /batches HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer ${KEY}\r\nContent-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n`;
		const chunk = `10000\r\n${"x".repeat(0x10000)}\r\n`;
		const text = await exchanged(port, head, chunk, chunk, chunk, chunk, chunk);
		expect(text).toMatch(/^HTTP\/1\.1 413 /);
	});

	it("gives a request 10 s for its header fields and 30 s in all, and an idle connection 5 s", () => {
		const { headersTimeout, requestTimeout, keepAliveTimeout } = api.app.getHttpServer();
		expect({ headersTimeout, requestTimeout, keepAliveTimeout }).toEqual({
			headersTimeout: 10_000,
			requestTimeout: 30_000,
			keepAliveTimeout: 5_000,
		});
	});
});
