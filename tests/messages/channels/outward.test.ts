import { createServer } from "node:http";
import type { AddressInfo } from "node:net";
import { type Lookup, Outward } from "../../../src/messages/channels/outward.js";
import { isPrivate } from "../../../src/messages/channels/private-ranges.js";
import { SmsGatewayNotifier } from "../../../src/messages/channels/sms-gateway.js";
import { WebhookNotifier } from "../../../src/messages/channels/webhook.js";
import { Tries } from "../../../src/messages/tries.js";
import { smsGateway } from "../../../src/settings/channels/sms-gateway.js";
import { settingsFrom } from "../../../src/settings/settings.js";
import { VirtualClock } from "../../../src/time/clock.js";
import { outgoing } from "./a-message.js";

const SECRET = `whsec_${Buffer.alloc(24, 7).toString("base64")}`;

/** A server on every loopback address, so that which one was connected to can be told. */
async function peerOnLoopback(headers: Record<string, string> = {}, status = 204) {
	const reached: string[] = [];
	const server = createServer((request, response) => {
		reached.push(String(request.socket.localAddress));
		response.writeHead(status, { connection: "close", ...headers }).end();
	});
	await new Promise<void>((resolve) => server.listen(0, "0.0.0.0", resolve));
	const { port } = server.address() as AddressInfo;
	return { reached, port, close: () => new Promise((resolve) => server.close(resolve)) };
}

/** Answers with one list of addresses after the other; the last one stays. */
function resolverOf(...answers: string[][]): Lookup & { readonly asked: string[] } {
	const asked: string[] = [];
	const lookup: Lookup = (hostname, _, done) => {
		const addresses = answers[Math.min(asked.push(hostname), answers.length) - 1] as string[];
		done(
			null,
			addresses.map((address) => ({ address, family: address.includes(":") ? 6 : 4 })),
		);
	};
	return Object.assign(lookup, { asked });
}

describe("addresses that aren't of the public network", () => {
	// Source: IANA IPv4 and IPv6 Special-Purpose Address Registries (RFC 6890 and what it lists), first and last address of each block;
	// RFC 4291, section 2.5.5.2 for IPv4-mapped ones; 169.254.169.254 serves metadata on many hosts (common practice, no source).
	it.each([
		...["0.0.0.0", "10.0.0.0", "10.255.255.255", "100.64.0.0", "100.127.255.255", "127.0.0.1", "127.255.255.255"],
		...["169.254.0.0", "169.254.169.254", "172.16.0.0", "172.31.255.255", "192.168.0.0", "192.168.255.255", "198.18.0.1"],
		...[
			"224.0.0.1",
			"240.0.0.1",
			"255.255.255.255",
			"::",
			"::1",
			"fc00::1",
			"fdff:ffff::1",
			"fe80::1",
			"fe80::1%eth0",
			"ff02::1",
		],
		...["::ffff:127.0.0.1", "::ffff:7f00:1", "::ffff:a00:1", "0:0:0:0:0:ffff:192.168.1.1", "::ffff:100.64.0.1", "::10.0.0.1"],
		...["64:ff9b::a00:1", "2002:a00:1::1", "2001:db8::1"],
	])("%s is private", (address) => {
		expect(isPrivate(address)).toBe(true);
	});

	it.each([
		...[
			"1.1.1.1",
			"9.255.255.255",
			"11.0.0.0",
			"100.63.255.255",
			"100.128.0.0",
			"126.255.255.255",
			"128.0.0.1",
			"169.253.255.255",
		],
		...["172.15.255.255", "172.32.0.0", "192.167.255.255", "192.169.0.0", "223.255.255.255"],
		...["2606:4700::1111", "2a00::1", "::ffff:8.8.8.8"],
	])("%s is public", (address) => {
		expect(isPrivate(address)).toBe(false);
	});
});

describe("a request to an address that somebody set up", () => {
	it("isn't made where the name leads into this machine, and the reason names neither host nor address", async () => {
		const peer = await peerOnLoopback();
		const outward = new Outward("refused", resolverOf(["127.0.0.1"]));
		const notifier = new WebhookNotifier(
			{ url: `http://hook.example.org:${peer.port}/`, secret: SECRET },
			new VirtualClock(0),
			outward,
		);
		const delivery = await new Tries(5_000).of(notifier, outgoing());
		expect(delivery).toMatchObject({ kind: "refused", forGood: false });
		expect(JSON.stringify(delivery)).toContain("notifier-refused");
		expect(JSON.stringify(delivery)).not.toMatch(/example\.org|127\.0/);
		expect(peer.reached).toEqual([]);
		await notifier.close();
		await peer.close();
	});

	it("is made to the address that was looked at: a name that leads elsewhere the second time isn't followed there", async () => {
		const peer = await peerOnLoopback();
		// 127.0.0.2 stands for a public address: no test may call a real one.
		const resolver = resolverOf(["127.0.0.2"], ["127.0.0.1"]);
		const outward = new Outward(["127.0.0.2"], resolver);
		const url = `http://rebinding.example.org:${peer.port}/`;
		expect((await outward.fetch(url, { method: "POST" })).status).toBe(204);
		await expect(outward.fetch(url, { method: "POST" })).rejects.toMatchObject({ cause: { code: "notifier-refused" } });
		expect(resolver.asked).toHaveLength(2);
		expect(peer.reached).toEqual(["127.0.0.2"]);
		await outward.close();
		await peer.close();
	});

	it("is made to the permitted one of several addresses alone", async () => {
		const peer = await peerOnLoopback();
		const outward = new Outward(["127.0.0.2/32"], resolverOf(["127.0.0.1", "127.0.0.2", "10.0.0.1"]));
		expect((await outward.fetch(`http://mixed.example.org:${peer.port}/`, {})).status).toBe(204);
		expect(peer.reached).toEqual(["127.0.0.2"]);
		await outward.close();
		await peer.close();
	});

	it.each(["127.0.0.1", "[::ffff:127.0.0.1]", "2130706433", "0x7f.1", "017700000001"])(
		"isn't made to %s, however it is written",
		async (host) => {
			const peer = await peerOnLoopback();
			const outward = new Outward();
			await expect(outward.fetch(`http://${host}:${peer.port}/`, {})).rejects.toMatchObject({
				cause: { code: "notifier-refused" },
			});
			expect(peer.reached).toEqual([]);
			await outward.close();
			await peer.close();
		},
	);

	it("goes where the settings name the host, its range, or allow everything", async () => {
		const peer = await peerOnLoopback();
		for (const [rule, host] of [
			[["gateway.example.org"], "gateway.example.org"],
			[["127.0.0.0/8"], "other.example.org"],
			["allowed", "other.example.org"],
			["allowed", "127.0.0.1"],
		] as const) {
			const outward = new Outward(rule, resolverOf(["127.0.0.1"]));
			expect((await outward.fetch(`http://${host}:${peer.port}/`, {})).status).toBe(204);
			await outward.close();
		}
		await peer.close();
	});

	it("doesn't follow a redirect", async () => {
		const peer = await peerOnLoopback({ location: "http://127.0.0.1:1/" }, 302);
		const outward = new Outward("allowed");
		expect((await outward.fetch(`http://127.0.0.1:${peer.port}/`, {})).status).toBe(302);
		expect(peer.reached).toHaveLength(1);
		await outward.close();
		await peer.close();
	});
});

describe("the start", () => {
	it("is refused where a webhook or gateway plainly leads into a private network, and says what would be right", () => {
		const clock = new VirtualClock(0);
		for (const url of ["http://10.1.2.3/", "http://localhost/", "http://hook.localhost/", "http://[::1]/", "http://[fd00::1]/"])
			expect(() => new WebhookNotifier({ url, secret: SECRET }, clock)).toThrow(/JARWATCH_PRIVATE_ADDRESSES/);
		const gateway = smsGateway.parse({
			url: "http://192.168.1.1/{to}",
			send: { as: "form", template: { to: "{to}", text: "{text}" } },
		});
		expect(() => new SmsGatewayNotifier(gateway, clock)).toThrow(/JARWATCH_PRIVATE_ADDRESSES/);
		expect(
			() => new WebhookNotifier({ url: "http://10.1.2.3/", secret: SECRET }, clock, new Outward(["10.1.0.0/16"])),
		).not.toThrow();
		expect(() => new WebhookNotifier({ url: "https://hook.example.org/", secret: SECRET }, clock)).not.toThrow();
	});

	it("takes allowed, refused, or hosts and ranges for JARWATCH_PRIVATE_ADDRESSES, and nothing else", () => {
		const rule = (text: string) => settingsFrom({ JARWATCH_PRIVATE_ADDRESSES: text }).privateAddresses;
		expect(settingsFrom({}).privateAddresses).toBe("refused");
		expect(rule("allowed")).toBe("allowed");
		expect(rule("Gateway.internal, 10.1.0.0/16, fd00:1::/32")).toEqual(["gateway.internal", "10.1.0.0/16", "fd00:1::/32"]);
		for (const wrong of ["allowed,refused", "10.0.0.0/33", "fd00::/129", "10.0.0.0/8/8", "http://host/", ","])
			expect(() => rule(wrong)).toThrow(/JARWATCH_PRIVATE_ADDRESSES: is allowed, refused, or a list/);
	});
});
