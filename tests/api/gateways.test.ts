import { createHmac } from "node:crypto";
import { inbound } from "../../src/settings/channels/inbound.js";
import { aMessage, anArea, aPerson } from "../support/builders.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch } from "../support/world.js";
import { GATEWAY_SECRET, KEY, type Served, served } from "./served.js";

const OWN_SECRET = "an-invented-secret-of-one-gateway";
const GATEWAYS = inbound.parse({
	"city-sms": {
		channel: "sms",
		proof: { by: "secret", secret: OWN_SECRET },
		receipt: { list: "/results", id: "/id", status: "/state", delivered: ["DELIVRD"], failed: ["UNDELIV"] },
		text: { id: "/id", from: "/from", text: "/text" },
	},
	"hill-sms": {
		channel: "hill",
		body: "form",
		proof: { by: "signature", header: "X-Signature", secret: OWN_SECRET, prefix: "sha256=" },
		text: { id: "/id", from: "/sender", text: "/msg" },
	},
	"mail-relay": {
		channel: "email",
		proof: { by: "basic", user: "relay", password: OWN_SECRET },
		mail: { id: "/id", from: "/from", text: "/plain" },
	},
});

onEachDatabase("gateways that post", (kind) => {
	let api: Served;
	beforeAll(async () => {
		api = await served(kind, { apiKey: KEY, inboundSecret: GATEWAY_SECRET, channels: { inbound: GATEWAYS } });
		const { store } = api.world;
		await store.work.run((tx) => tx.query("UPDATE person SET email = $1 WHERE id = 'vol'", ["vol@example.org"]));
		await aPerson(store, { id: "lone", areaId: "area", channels: ["sms"] });
		await aMessage(store, { id: "m1", recipientId: "lone", state: "sent", channel: "sms", createdAtMs: api.world.clock.nowMs() });
		await store.work.run((tx) =>
			tx.query(
				`INSERT INTO message_receipt (id, channel, channel_message_id, message_id, claim, segment, state, at_ms, received_at_ms)
				 VALUES ('r1', 'sms', 'g-1', 'm1', 1, 1, 'accepted', 0, 0), ('r2', 'sms', 'g-2', 'm1', 1, 2, 'accepted', 0, 0)`,
			),
		);
	});
	afterAll(() => api.close());

	const post = (url: string, raw: string | Buffer, headers: Record<string, string>) =>
		api.ask("POST", url, { raw, headers: { "content-type": "application/json", "x-inbound-secret": "", ...headers } });
	const bySecret = { "x-inbound-secret": OWN_SECRET };
	const signed = (form: string) => ({
		"content-type": "application/x-www-form-urlencoded",
		"x-signature": `sha256=${createHmac("sha256", OWN_SECRET).update(form).digest("hex")}`,
	});
	const password = { authorization: `Basic ${Buffer.from(`relay:${OWN_SECRET}`).toString("base64")}` };

	it("tell of two segments; the message fails by one of them, is counted by channel and area, and is sent when that one arrives after all", async () => {
		const results = [
			{ id: "g-1", state: "DELIVRD" },
			{ id: "g-2", state: "UNDELIV" },
			{ id: "elsewhere", state: "DELIVRD" },
		];
		const answer = await post("/receipts/city-sms", JSON.stringify({ results }), bySecret);
		expect([answer.status, answer.body]).toEqual([200, { taken: 3, unknown: 1 }]);
		const list = await api.ask("GET", "/messages?state=failed");
		expect(list.body.items).toMatchObject([{ id: "m1", receipt: "failed", answer: "told afterwards: failed" }]);
		const counted = await api.ask("GET", "/messages/failed-counts");
		expect(counted.body.items).toEqual([{ channel: "sms", areaCode: "A1", failed: 1, sent: 0 }]);
		await anArea(api.world.store, { id: "aside", code: "A2" });
		expect((await api.ask("GET", "/messages/failed-counts?area=A1")).body.items).toHaveLength(1);
		expect((await api.ask("GET", "/messages/failed-counts?area=A2")).body.items).toEqual([]);
		expect((await api.ask("GET", "/messages/failed-counts?since=2030-01-01T00:00:00Z")).body.items).toEqual([]);
		const { text } = await api.ask("GET", "/metrics");
		expect(text).toContain('jarwatch_messages_failed{channel="sms"} 1');
		expect(text).toContain('jarwatch_receipts_unknown{channel="sms"} 1');
		await post("/receipts/city-sms", JSON.stringify({ results: [{ id: "g-2", state: "DELIVRD" }] }), bySecret);
		expect((await api.ask("GET", "/messages?state=sent")).body.items).toMatchObject([{ id: "m1", receipt: "delivered" }]);
		expect((await api.ask("GET", "/messages/failed-counts")).body.items).toMatchObject([{ failed: 0, sent: 1 }]);
		expect((await api.ask("GET", "/messages/m1/receipts")).body.items).toMatchObject([
			{ channel: "sms", segment: 1, state: "delivered", reason: "DELIVRD" },
			{ channel: "sms", segment: 2, state: "delivered", reason: "DELIVRD" },
		]);
	});

	it("post an answer to a task as signed form, once however often, and as e-mail, with what became of it as for any other text", async () => {
		const { world } = api;
		await aBatch(world, "B1");
		await aBatch(world, "B2");
		await world.live(20);
		const [first, second] = (await world.tasks()).filter(({ state, assigneeId }) => state === "open" && assigneeId === "vol");
		const form = `id=t-1&sender=447700900002&msg=${first?.code}+5%2B`;
		for (const repeated of [0, 1]) {
			const answer = await post("/inbound/hill-sms", form, signed(form));
			expect([answer.status, answer.body]).toEqual([200, { taken: 1, repeated }]);
		}
		const plain = `${second?.code} 4\n\nOn Thursday Jarwatch wrote:\n> Answer ${first?.code} and the number`;
		const mail = JSON.stringify({ id: "<1@example.org>", from: "Vol <VOL@example.org>", plain });
		expect((await post("/inbound/mail-relay", mail, password)).body).toEqual({ taken: 1, repeated: 0 });
		expect(await world.store.query("SELECT channel, person_id, task_id, outcome FROM reply ORDER BY channel")).toEqual([
			{ channel: "email", personId: "vol", taskId: second?.id, outcome: "accepted" },
			{ channel: "hill", personId: "vol", taskId: first?.id, outcome: "accepted" },
		]);
	});

	it.each<[string, string, string, Record<string, string>]>([
		["no secret", "/receipts/city-sms", "{}", {}],
		["another's secret", "/receipts/city-sms", "{}", { "x-inbound-secret": GATEWAY_SECRET }],
		["the office's key", "/receipts/city-sms", "{}", { authorization: `Bearer ${KEY}` }],
		["a name that isn't set up", "/receipts/nobody", "{}", bySecret],
		["a name that every object has", "/receipts/constructor", "{}", bySecret],
		["a signature of another body", "/inbound/hill-sms", "id=2", signed("id=1")],
		["no signature", "/inbound/hill-sms", "id=2", { "content-type": "application/x-www-form-urlencoded" }],
		["a wrong password", "/inbound/mail-relay", "{}", { authorization: `Basic ${Buffer.from("relay:x").toString("base64")}` }],
	])("are refused with 403 alike for %s", async (_, url, raw, headers) => {
		const answer = await post(url, raw, headers);
		expect([answer.status, answer.body.code]).toEqual([403, "not-allowed"]);
	});

	it("are told what is wrong and where, and nothing of it is taken", async () => {
		const results = [{ id: "g-9", state: "DELIVRD" }, { state: "DELIVRD" }];
		const answer = await post("/receipts/city-sms", JSON.stringify({ results }), bySecret);
		expect([answer.status, answer.body.errors]).toEqual([422, [{ pointer: "/results/1/id", detail: "must be there" }]]);
		expect(await api.world.store.query("SELECT id FROM message_receipt WHERE channel_message_id = 'g-9'")).toEqual([]);
		expect((await post("/inbound/mail-relay", "{", password)).status).toBe(422);
		expect((await post("/receipts/mail-relay", "{}", password)).status).toBe(404);
		expect((await post("/receipts/city-sms", "a,b", { ...bySecret, "content-type": "text/csv" })).status).toBe(415);
	});
});
