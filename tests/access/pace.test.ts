import { BlockList } from "node:net";
import type { FastifyRequest } from "fastify";
import { peerOf } from "../../src/api/edge/peer.js";
import { proxiesFrom } from "../../src/settings/proxies.js";
import { type Asked, GATEWAY_SECRET, KEY, type Served, served } from "../api/served.js";

describe("many requests", () => {
	let api: Served;
	beforeAll(async () => {
		api = await served("sqlite", { apiKey: KEY, inboundSecret: GATEWAY_SECRET, requestsPerMinute: 20 });
	});
	afterAll(() => api.close());

	it("of one stranger are refused with 429 and when to ask again, and nobody else's with them", async () => {
		const stranger: Asked = { from: "198.51.100.7", headers: { authorization: "Bearer wrong" } };
		for (let i = 0; i < 20; i++) expect((await api.ask("GET", "/areas", stranger)).status).toBe(401);
		const { status, body, headers } = await api.ask("GET", "/areas", stranger);
		expect([status, body.code]).toEqual([429, "too-many-requests"]);
		expect(Number(headers["retry-after"])).toBeGreaterThanOrEqual(1);
		expect(Number(headers["retry-after"])).toBeLessThanOrEqual(60);
		expect((await api.ask("GET", "/areas", { ...stranger, from: "198.51.100.8" })).status).toBe(401);
	});

	it("of one key are counted for it, from wherever they come; the key of the settings has no limit", async () => {
		const { key } = (await api.ask("POST", "/api-keys", { body: { name: "register", scopes: ["read"] } })).body;
		const headers = { authorization: `Bearer ${key}` };
		for (let i = 0; i < 20; i++) expect((await api.ask("GET", "/areas", { headers, from: `198.51.100.${i}` })).status).toBe(200);
		expect((await api.ask("GET", "/areas", { headers, from: "203.0.113.1" })).status).toBe(429);
		for (let i = 0; i < 40; i++) expect((await api.ask("GET", "/areas")).status).toBe(200);
	});
});

describe("the address that tries are counted by", () => {
	const request = (ip: string, forwarded?: string) =>
		({ ip, headers: forwarded === undefined ? {} : { "x-forwarded-for": forwarded } }) as unknown as FastifyRequest;
	const proxies = proxiesFrom("10.1.0.4, 10.2.0.0/16, fd00:1::/32") as BlockList;

	it.each([
		["198.51.100.7", undefined, "198.51.100.7"],
		["198.51.100.7", "203.0.113.9", "198.51.100.7"],
		["10.1.0.4", "203.0.113.9", "203.0.113.9"],
		["::ffff:10.1.0.4", "203.0.113.9", "203.0.113.9"],
		["10.1.0.4", "192.0.2.1, 203.0.113.9", "203.0.113.9"],
		["10.1.0.4", "203.0.113.9, 10.2.3.4", "203.0.113.9"],
		["fd00:1::5", "2001:db8::9", "2001:db8::9"],
		["10.1.0.4", "something else", "10.1.0.4"],
		["10.1.0.4", undefined, "10.1.0.4"],
	])("of a peer %s that forwards %s is %s: only proxies of the settings are believed (ASVS 4.1.3)", (ip, forwarded, peer) => {
		expect(peerOf(request(ip, forwarded), proxies)).toBe(peer);
	});

	it("is the peer's where the settings name no proxy", () => {
		expect(peerOf(request("10.1.0.4", "203.0.113.9"), undefined)).toBe("10.1.0.4");
	});

	it.each(["10.1.0.0/33", "proxy.example.org", "10.1.0.4/", "10.1.0.4/8/8", ""])("isn't read from the list %j", (list) => {
		expect(proxiesFrom(list)).toBeUndefined();
	});
});
