import { createServer } from "node:http";
import type { AddressInfo } from "node:net";
import { Outward } from "../../../src/messages/channels/outward.js";
import { SmsGatewayNotifier } from "../../../src/messages/channels/sms-gateway.js";
import { smsGateway } from "../../../src/settings/channels/sms-gateway.js";
import { VirtualClock } from "../../../src/time/clock.js";
import { httpPeer, type PeerAnswer } from "../../support/http-peer.js";
import { forever, outgoing } from "./a-message.js";

const KEY = "an-invented-key-of-a-gateway";

/** Three gateways that have nothing in common but SMS: each set up as its invented manual would have it. */
const MANNERS = {
	"JSON with a key in a header": {
		path: "/v1/messages",
		settings: {
			headers: { authorization: "Bearer {apiKey}", "idempotency-key": "{key}" },
			secrets: { apiKey: KEY },
			send: { as: "json", template: { to: "{to}", from: "Jars", content: { text: "{text}" }, reference: "{id}", parts: 1 } },
			answer: {
				id: "/messages/0/id",
				reason: "/error/detail",
				rules: [
					{ status: [200, 202], at: "/messages/0/state", is: ["queued"], means: "accepted" },
					{ at: "/error/code", is: ["blocked", "bad-number"], means: "refused for good" },
					{ at: "/error/code", is: ["slow-down"], means: "too many requests" },
				],
			},
		},
		acceptance: '{"messages": [{"id": "g-17", "state": "queued"}]}',
	},
	"a form with a password, answered as a form": {
		path: "/send.php",
		settings: {
			basic: { user: "jars", password: KEY },
			encodings: { "GSM-7": "0", "UCS-2": "8" },
			send: { as: "form", template: { dest: "{toDigits}", msg: "{text}", coding: "{encoding}", ref: "{key}" } },
			answer: {
				read: "form",
				id: "/smsid",
				rules: [
					{ at: "/status", is: ["0"], means: "accepted" },
					{ at: "/status", is: ["12"], means: "refused for good" },
				],
			},
		},
		acceptance: "status=0&smsid=g-17",
	},
	"GET with everything in the address, answered in words": {
		path: "/http/{apiKey}",
		settings: {
			method: "GET",
			secrets: { apiKey: KEY },
			send: { as: "query", template: { number: "{toDigits}", text: "{text}" } },
			answer: {
				read: "text",
				id: "/1",
				rules: [
					{ at: "/0", is: ["OK"], means: "accepted" },
					{ at: "/0", is: ["ERR"], means: "refused for good" },
				],
			},
		},
		acceptance: "OK: g-17\r\n",
	},
} as const;

type Manner = keyof typeof MANNERS;
const manners = Object.keys(MANNERS) as Manner[];

async function exchanged(manner: Manner, answer: PeerAnswer, message = outgoing()) {
	const peer = await httpPeer(() => answer);
	try {
		const { path, settings } = MANNERS[manner];
		const notifier = new SmsGatewayNotifier(
			smsGateway.parse({ url: `${peer.origin}${path}`, ...settings }),
			new VirtualClock(1_614_265_330_000),
			new Outward("allowed"),
		);
		const delivery = await notifier.send(message, forever);
		return { delivery, request: peer.received[0]! };
	} finally {
		await peer.close();
	}
}

describe("the channel of a gateway over HTTP", () => {
	it.each(manners)("speaks %s: accepted, with the gateway's own id", async (manner) => {
		const { delivery } = await exchanged(manner, { body: MANNERS[manner].acceptance });
		expect(delivery).toEqual({ kind: "accepted", answer: "HTTP 200, id g-17", channelMessageIds: ["g-17"] });
	});

	it("puts number, text, id and key where the settings have them, and the secret where it belongs", async () => {
		const json = await exchanged(manners[0]!, {});
		expect(json.request.method).toBe("POST");
		expect(json.request.headers).toMatchObject({
			"content-type": "application/json",
			authorization: `Bearer ${KEY}`,
			"idempotency-key": "task1.0.vol",
		});
		expect(JSON.parse(json.request.body.toString())).toEqual({
			to: "+447700900002",
			from: "Jars",
			content: { text: "Test jar B1 today." },
			reference: "m1",
			parts: 1,
		});
		const form = await exchanged(manners[1]!, {});
		expect(form.request.headers.authorization).toBe(`Basic ${Buffer.from(`jars:${KEY}`).toString("base64")}`);
		expect(Object.fromEntries(new URLSearchParams(form.request.body.toString()))).toEqual({
			dest: "447700900002",
			msg: "Test jar B1 today.",
			coding: "0",
			ref: "task1.0.vol",
		});
		const query = await exchanged(manners[2]!, {});
		expect([query.request.method, query.request.url.pathname, query.request.body.length]).toEqual(["GET", `/http/${KEY}`, 0]);
		expect(Object.fromEntries(query.request.url.searchParams)).toEqual({ number: "447700900002", text: "Test jar B1 today." });
	});

	const HARD = 'a&b=c "d" \\ {apiKey} +1 %41 50 % 塩素 \u{1f4a7}\r\nx: y';

	it.each(manners)(
		"carries a text full of signs unchanged by %s, and fills nothing in that stands in the text itself",
		async (manner) => {
			const { request } = await exchanged(manner, {}, outgoing({ text: HARD }));
			const arrived =
				manner === manners[0]
					? JSON.parse(request.body.toString()).content.text
					: manner === manners[1]
						? new URLSearchParams(request.body.toString()).get("msg")
						: request.url.searchParams.get("text");
			expect(arrived).toBe(HARD);
			if (manner === manners[1]) expect(new URLSearchParams(request.body.toString()).get("coding")).toBe("8");
		},
	);

	it.each<[Manner, PeerAnswer, object]>([
		[manners[0]!, { status: 400, body: '{"error": {"code": "bad-number"}}' }, { forGood: true }],
		[manners[0]!, { status: 503, body: '{"error": {"code": "blocked"}}' }, { forGood: true }],
		[
			manners[0]!,
			{ status: 200, body: '{"error": {"code": "slow-down"}}' },
			{ forGood: false, throttled: true, retryAfterMs: 30_000 },
		],
		[manners[0]!, { status: 429, headers: { "retry-after": "7" } }, { forGood: false, throttled: true, retryAfterMs: 7_000 }],
		[manners[0]!, { status: 503, headers: { "retry-after": "120" } }, { forGood: false, retryAfterMs: 120_000 }],
		[manners[0]!, { status: 200, body: "<html>maintenance</html>" }, { forGood: false }],
		[manners[0]!, { status: 302, headers: { location: "/elsewhere" } }, { forGood: false }],
		[manners[0]!, { status: 401 }, { forGood: true }],
		[manners[1]!, { body: "status=12" }, { forGood: true }],
		[manners[1]!, { body: "status=99" }, { forGood: false }],
		[manners[2]!, { body: "ERR bad number" }, { forGood: true }],
		[manners[2]!, { status: 500, body: "OK? no" }, { forGood: false }],
	])("refuses by %s as %j says", async (manner, answer, expected) => {
		const { delivery } = await exchanged(manner, answer);
		expect(delivery).toMatchObject({ kind: "refused", ...expected });
	});

	it("repeats neither the number nor a secret from what a gateway complains about", async () => {
		const detail = `key ${KEY} may not write to 447700900002`;
		const { delivery } = await exchanged(manners[0]!, { status: 400, body: JSON.stringify({ error: { detail } }) });
		expect(delivery).toMatchObject({
			kind: "refused",
			reason: "HTTP 400: key [secret] may not write to [number]",
			forGood: true,
		});
	});

	it("lets go of a gateway that doesn't answer when the try's time is up", async () => {
		let isAsked: () => void = () => undefined;
		const asked = new Promise<void>((resolve) => (isAsked = resolve));
		const silent = createServer(() => isAsked());
		await new Promise<void>((resolve) => silent.listen(0, "127.0.0.1", resolve));
		const url = `http://127.0.0.1:${(silent.address() as AddressInfo).port}/`;
		const settings = smsGateway.parse({ url, send: { as: "form", template: { to: "{to}", text: "{text}" } } });
		const timeIsUp = new AbortController();
		const sending = new SmsGatewayNotifier(settings, new VirtualClock(0), new Outward("allowed")).send(
			outgoing(),
			timeIsUp.signal,
		);
		await asked;
		timeIsUp.abort(new DOMException("the time for this try is up", "TimeoutError"));
		await expect(sending).rejects.toMatchObject({ name: "TimeoutError" });
		silent.closeAllConnections();
		await new Promise((resolve) => silent.close(resolve));
	});

	it("refuses for good whoever has no phone number, and asks the gateway nothing", async () => {
		const peer = await httpPeer(() => ({}));
		const settings = smsGateway.parse({ url: peer.origin, send: { as: "form", template: { to: "{to}", text: "{text}" } } });
		const notifier = new SmsGatewayNotifier(settings, new VirtualClock(0), new Outward("allowed"));
		expect(await notifier.send(outgoing({ recipient: { phoneE164: null } }), forever)).toMatchObject({ forGood: true });
		expect(peer.received).toEqual([]);
		await peer.close();
	});
});
