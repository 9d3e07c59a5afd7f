import type { AddressInfo } from "node:net";
import { pino } from "pino";
import { SMTPServer } from "smtp-server";
import { EmailNotifier } from "../../../src/messages/channels/email.js";
import { Outward } from "../../../src/messages/channels/outward.js";
import { SmsGatewayNotifier } from "../../../src/messages/channels/sms-gateway.js";
import { Dispatcher } from "../../../src/messages/dispatcher.js";
import { email } from "../../../src/settings/channels/email.js";
import { smsGateway } from "../../../src/settings/channels/sms-gateway.js";
import { VirtualClock } from "../../../src/time/clock.js";
import { Ids } from "../../../src/time/ids.js";
import { SeededRandomness } from "../../../src/time/randomness.js";
import { aMessage, anArea, aPerson, clear, messages, THURSDAY_NOON_MS } from "../../support/builders.js";
import { httpPeer, type PeerAnswer } from "../../support/http-peer.js";
import { named } from "../../support/notifiers.js";
import { newStore, onEachDatabase } from "../../support/stores.js";

onEachDatabase("a person with SMS before e-mail", (kind) => {
	let store: Awaited<ReturnType<typeof newStore>>;
	let areaId: string;
	const ends: (() => Promise<unknown>)[] = [];
	beforeAll(async () => {
		store = await newStore(kind);
	});
	afterAll(() => store.remove());
	beforeEach(async () => {
		await clear(store);
		areaId = (await anArea(store)).id;
	});
	afterEach(async () => {
		for (const end of ends.splice(0).reverse()) await end();
	});

	/** A real gateway and a real mail server, and a dispatcher that has both. */
	async function linked(gateway: (sent: number) => PeerAnswer) {
		let sent = 0;
		const mailed: string[] = [];
		const peer = await httpPeer(() => gateway(++sent));
		const server = new SMTPServer({
			authOptional: true,
			disabledCommands: ["STARTTLS"],
			onRcptTo({ address }, _, done) {
				mailed.push(address);
				done();
			},
			onData(stream, _, done) {
				stream.resume();
				stream.on("end", () => done());
			},
		});
		await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
		const clock = new VirtualClock(THURSDAY_NOON_MS);
		const { port } = server.server.address() as AddressInfo;
		const sms = new SmsGatewayNotifier(
			smsGateway.parse({ url: peer.origin, send: { as: "form", template: { to: "{to}", text: "{text}" } } }),
			clock,
			new Outward("allowed"),
		);
		const mail = new EmailNotifier(email.parse({ host: "127.0.0.1", port, tls: "none", from: "jars@example.org" }));
		ends.push(
			() => peer.close(),
			() => new Promise<void>((resolve) => server.close(() => resolve())),
			() => mail.close(),
		);
		const randomness = new SeededRandomness(1);
		const dispatcher = new Dispatcher(
			{
				store,
				clock,
				randomness,
				ids: new Ids(clock, randomness),
				notifiers: named(sms, mail),
				log: pino({ level: "silent" }),
			},
			{ leaseMs: 60_000, sendTimeoutMs: 15_000, sendTries: 2, sendConcurrency: 1 },
		);
		return { dispatcher, mailed, clock, peer };
	}
	const stateOf = async (id: string) => (await store.query("SELECT state, channel, tries FROM message WHERE id = $1", [id]))[0];
	const both = { channels: ["sms-gateway", "email"], email: "vol@example.org" };

	it("is written an e-mail when the gateway refuses her number for good", async () => {
		const { dispatcher, mailed } = await linked(() => ({ status: 400 }));
		const person = await aPerson(store, { areaId, ...both });
		const { id } = await aMessage(store, { recipientId: person.id });
		await dispatcher.dispatchReady();
		await dispatcher.dispatchReady();
		expect(await stateOf(id)).toEqual({ state: "sent", channel: "email", tries: 0 });
		expect(mailed).toEqual(["vol@example.org"]);
	});

	it("is written an e-mail when she has no number, and the gateway isn't asked", async () => {
		const { dispatcher, mailed, peer } = await linked(() => ({}));
		const person = await aPerson(store, { areaId, ...both, phoneE164: null });
		const { id } = await aMessage(store, { recipientId: person.id });
		await dispatcher.dispatchReady();
		await dispatcher.dispatchReady();
		expect(await stateOf(id)).toMatchObject({ state: "sent", channel: "email" });
		expect([mailed.length, peer.received.length]).toEqual([1, 0]);
	});

	it("loses no try by a gateway that only asks for a slower pace: 5 messages at one every minute all go by SMS", async () => {
		let free = 0;
		const { dispatcher, mailed, clock, peer } = await linked(() =>
			free-- > 0 ? { status: 200 } : { status: 429, headers: { "retry-after": "60" } },
		);
		const person = await aPerson(store, { areaId, ...both });
		await messages(store, 5, { recipientId: person.id });
		for (let minute = 0; minute < 12; minute++) {
			free = 1;
			await dispatcher.dispatchReady();
			clock.advance(75_000);
		}
		expect(await store.query("SELECT state, channel, tries, count(*) AS n FROM message GROUP BY state, channel, tries")).toEqual([
			{ state: "sent", channel: "sms-gateway", tries: 0, n: 5 },
		]);
		expect(mailed).toEqual([]);
		expect(peer.received.length).toBeGreaterThan(8);
	});
});
