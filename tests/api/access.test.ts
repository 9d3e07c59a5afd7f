import { isRule } from "../../src/access/rules.js";
import { GATEWAY_SECRET, KEY, type Served, served } from "./served.js";

const text = { messageId: "1", from: "+447700900999", text: "hello" };

describe("access with a key and a gateway's secret", () => {
	let api: Served;
	beforeAll(async () => {
		api = await served("sqlite");
	});
	afterAll(() => api.close());

	it.each([
		["no key", {}, 'Bearer realm="jarwatch"'],
		["another scheme", { authorization: `Basic ${KEY}` }, 'Bearer realm="jarwatch"'],
		["a wrong key", { authorization: "Bearer wrong" }, 'Bearer realm="jarwatch", error="invalid_token"'],
		[
			"a key that begins right",
			{ authorization: `Bearer ${KEY.slice(0, -1)}` },
			'Bearer realm="jarwatch", error="invalid_token"',
		],
		["a key that goes on", { authorization: `Bearer ${KEY}x` }, 'Bearer realm="jarwatch", error="invalid_token"'],
		["two keys", { authorization: `Bearer ${KEY} ${KEY}` }, 'Bearer realm="jarwatch"'],
	])("answers 401 with a challenge (RFC 6750, section 3) to %s on every route that isn't open", async (_, headers, challenge) => {
		const office = api.routes.known.filter(({ access }) => isRule(access));
		expect(office.length).toBeGreaterThan(20);
		for (const { method, pattern } of office) {
			const url = pattern.replace(/:\w+/g, "x");
			const answer = await api.ask(method as "GET", url, { headers: { authorization: "", ...headers } });
			expect({ url, status: answer.status, challenge: answer.headers["www-authenticate"] }).toEqual({
				url,
				status: 401,
				challenge,
			});
		}
	});

	it("takes the key whatever the case of its scheme (RFC 9110, section 11.1)", async () => {
		expect((await api.ask("GET", "/areas", { headers: { authorization: `bEARER ${KEY}` } })).status).toBe(200);
	});

	it("looks at the key before the body, so that a stranger learns nothing of what a body should be", async () => {
		const answer = await api.ask("POST", "/batches", {
			raw: "{",
			headers: { authorization: "", "content-type": "application/json" },
		});
		expect(answer.status).toBe(401);
	});

	it("answers health, description and page without a key", async () => {
		for (const url of ["/health/live", "/health/ready", "/openapi.json", "/docs", "/docs/swagger-ui.css"])
			expect({ url, status: (await api.ask("GET", url)).status }).toEqual({ url, status: 200 });
	});

	it.each([
		["nothing", ""],
		["a wrong secret", "wrong"],
		["the office's key", KEY],
	])("refuses a text that comes with %s instead of the gateway's secret with 403", async (_, secret) => {
		const answer = await api.ask("POST", "/replies/sms", { body: text, headers: { "x-inbound-secret": secret } });
		expect([answer.status, answer.body.code]).toEqual([403, "not-allowed"]);
	});

	it("doesn't let the gateway's secret into the office, and takes it for texts from anywhere", async () => {
		expect((await api.ask("GET", "/people", { headers: { authorization: `Bearer ${GATEWAY_SECRET}` } })).status).toBe(401);
		expect((await api.ask("POST", "/replies/sms", { body: text, from: "198.51.100.7" })).status).toBe(200);
	});
});

describe("access without a key or a secret", () => {
	let api: Served;
	beforeAll(async () => {
		api = await served("sqlite", { apiKey: undefined, inboundSecret: undefined });
	});
	afterAll(() => api.close());

	it.each(["127.0.0.1", "127.8.9.10", "::1", "::ffff:127.0.0.1"])("answers the loopback address %s", async (from) => {
		expect((await api.ask("GET", "/areas", { from })).status).toBe(200);
		expect((await api.ask("POST", "/replies/sms", { body: { ...text, messageId: from }, from })).status).toBe(200);
	});

	it.each(["198.51.100.7", "10.0.0.1", "fe80::1", "::ffff:10.0.0.1"])("refuses the address %s with 403", async (from) => {
		expect((await api.ask("GET", "/areas", { from })).status).toBe(403);
		expect((await api.ask("POST", "/replies/sms", { body: text, from })).status).toBe(403);
	});

	it("believes no header field that claims to speak for another address", async () => {
		const headers = { "x-forwarded-for": "127.0.0.1", forwarded: "for=127.0.0.1", "x-real-ip": "127.0.0.1" };
		expect((await api.ask("GET", "/areas", { from: "198.51.100.7", headers })).status).toBe(403);
	});

	it("refuses a browser whose page made its own name point to this machine", async () => {
		expect((await api.ask("GET", "/areas", { headers: { host: "rebound.example:8080" } })).status).toBe(403);
		for (const host of ["localhost:8080", "127.0.0.1:8080", "[::1]:8080"])
			expect({ host, status: (await api.ask("GET", "/areas", { headers: { host } })).status }).toEqual({ host, status: 200 });
	});
});
