import { createECDH } from "node:crypto";
import { webPush } from "../../src/settings/channels/web-push.js";
import { onEachDatabase } from "../support/stores.js";
import { GATEWAY_SECRET, KEY, type Served, served } from "./served.js";

const own = createECDH("prime256v1");
own.generateKeys();
const setting = webPush.parse({
	contact: "mailto:office@example.org",
	publicKey: own.getPublicKey("base64url"),
	privateKey: own.getPrivateKey("base64url"),
	hosts: ["push.example.org"],
});
const keys = { p256dh: own.getPublicKey("base64url"), auth: Buffer.alloc(16, 7).toString("base64url") };
const subscription = { endpoint: "https://push.example.org/send/1", expirationTime: null, keys };

onEachDatabase("a person's browsers", (kind) => {
	let api: Served;
	beforeAll(async () => {
		const secrets = { apiKey: KEY, inboundSecret: GATEWAY_SECRET };
		api = await served(kind, { ...secrets, channels: { inbound: {}, "web-push": setting } });
	});
	afterAll(() => api.close());

	it("are kept as a browser gives them, once each", async () => {
		for (let i = 0; i < 2; i++) {
			const answer = await api.ask("POST", "/people/vol/push-subscriptions", { body: subscription });
			expect([answer.status, answer.body]).toEqual([201, { personCode: "vol", browsers: 1 }]);
		}
	});

	it("and her e-mail are shown to nobody in full: the list of people has the first letter and the domain, and her channels", async () => {
		const set = `UPDATE person SET email = $1, channels = '["web-push","email"]' WHERE id = 'vol'`;
		await api.world.store.work.run((tx) => tx.query(set, ["vol@example.org"]));
		const { body } = await api.ask("GET", "/people?role=volunteer");
		expect(body.items).toMatchObject([{ code: "vol", email: "v…@example.org", channels: ["web-push", "email"] }]);
	});

	it.each([
		["another push service", { ...subscription, endpoint: "https://elsewhere.example.org/" }, "/endpoint"],
		["an address inside the network", { ...subscription, endpoint: "http://169.254.169.254/" }, "/endpoint"],
		["a key of 64 bytes", { ...subscription, keys: { ...keys, p256dh: Buffer.alloc(64).toString("base64url") } }, "/keys/p256dh"],
		["a secret that isn't base64url", { ...subscription, keys: { ...keys, auth: "??" } }, "/keys/auth"],
	])("are refused with %s", async (_, body, pointer) => {
		const answer = await api.ask("POST", "/people/vol/push-subscriptions", { body });
		expect([answer.status, answer.body.errors[0].pointer]).toEqual([422, pointer]);
	});
});

describe("a person's browsers where the channel isn't set up", () => {
	it("are refused with 409", async () => {
		const api = await served("sqlite");
		expect((await api.ask("POST", "/people/vol/push-subscriptions", { body: subscription })).status).toBe(409);
		await api.close();
	});
});
