import type { AddressInfo } from "node:net";
import { pino } from "pino";
import { SMTPServer } from "smtp-server";
import { failedText } from "../../src/cli/failed-messages/command.js";
import { EmailNotifier } from "../../src/messages/channels/email.js";
import { Outward } from "../../src/messages/channels/outward.js";
import { SmppNotifier } from "../../src/messages/channels/smpp/notifier.js";
import { SmsGatewayNotifier } from "../../src/messages/channels/sms-gateway.js";
import { Dispatcher } from "../../src/messages/dispatcher.js";
import { Failures } from "../../src/messages/failures.js";
import { Inbox } from "../../src/messages/inbox.js";
import { email } from "../../src/settings/channels/email.js";
import { smpp } from "../../src/settings/channels/smpp.js";
import { smsGateway } from "../../src/settings/channels/sms-gateway.js";
import { VirtualClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { SeededRandomness } from "../../src/time/randomness.js";
import { aMessage, anArea, aPerson, clear, THURSDAY_NOON_MS } from "../support/builders.js";
import { httpPeer } from "../support/http-peer.js";
import { named } from "../support/notifiers.js";
import { smppPeer } from "../support/smpp-peer.js";
import { newStore, onEachDatabase } from "../support/stores.js";

class NoInbox extends Inbox {
	async text(): Promise<void> {}
	async receipts(): Promise<void> {}
}

/** ESME_RINVDSTADR of SMPP 3.4, section 5.1.3: a refusal for good. */
const INVALID_DESTINATION = 0x0b;

onEachDatabase("messages that failed for good", (kind) => {
	let store: Awaited<ReturnType<typeof newStore>>;
	const ends: (() => Promise<unknown>)[] = [];
	beforeAll(async () => {
		store = await newStore(kind);
	});
	afterAll(() => store.remove());
	beforeEach(() => clear(store));
	afterEach(async () => {
		for (const end of ends.splice(0).reverse()) await end();
	});

	it("on a gateway by HTTP, a message centre by SMPP and a mail server are listed with the reason, and arrive under their keys when they are sent again", async () => {
		let works = false;
		const mailed: string[] = [];
		const gateway = await httpPeer(() => (works ? { status: 200, body: "OK" } : { status: 400, body: "no" }));
		const centre = await smppPeer({ submit: () => (works ? { message_id: "c1" } : { command_status: INVALID_DESTINATION }) });
		const server = new SMTPServer({
			authOptional: true,
			disabledCommands: ["STARTTLS"],
			onRcptTo(_, __, done) {
				done(works ? null : Object.assign(new Error("no such mailbox"), { responseCode: 550 }));
			},
			onData(stream, session, done) {
				stream.resume();
				stream.on("end", () => {
					mailed.push(...session.envelope.rcptTo.map(({ address }) => address));
					done();
				});
			},
		});
		await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
		const clock = new VirtualClock(THURSDAY_NOON_MS);
		const randomness = new SeededRandomness(1);
		const ids = new Ids(clock, randomness);
		const log = pino({ level: "silent" });
		const { port } = server.server.address() as AddressInfo;
		const sms = new SmsGatewayNotifier(
			smsGateway.parse({ url: gateway.origin, send: { as: "form", template: { to: "{to}", text: "{text}", key: "{key}" } } }),
			clock,
			new Outward("allowed"),
		);
		const direct = new SmppNotifier({
			settings: smpp.parse({ host: "127.0.0.1", port: centre.port, systemId: "jars", password: "invented", source: "Jars" }),
			clock,
			log,
			randomness,
			inbox: new NoInbox(),
		});
		const mail = new EmailNotifier(email.parse({ host: "127.0.0.1", port, tls: "none", from: "jars@example.org" }));
		ends.push(
			() => gateway.close(),
			() => centre.close(),
			() => new Promise<void>((resolve) => server.close(() => resolve())),
			() => mail.close(),
			() => direct.close(),
		);
		const one = new Dispatcher(
			{ store, clock, randomness, ids, notifiers: named(sms, direct, mail), log },
			{ leaseMs: 60_000, sendTimeoutMs: 15_000, sendTries: 2, sendConcurrency: 2 },
		);
		const area = await anArea(store);
		const by = new Map<string, string>();
		for (const channel of [sms.name, direct.name, mail.name]) {
			const person = await aPerson(store, { areaId: area.id, channels: [channel], email: "vol@example.org" });
			by.set(channel, (await aMessage(store, { recipientId: person.id })).id);
		}
		const all = async () => {
			while ((await one.dispatchReady()) > 0);
		};
		await all();
		const failures = new Failures(store, clock, ids, () => undefined);
		const failed = await failures.list();
		expect(new Map(failed.map(({ channel, id }) => [channel, id]))).toEqual(by);
		expect(failed.every(({ answer }) => (answer ?? "").length > 0)).toBe(true);
		const text = failedText(failed, 0);
		for (const id of by.values()) expect(text).toContain(id);

		works = true;
		clock.advance(1000);
		await failures.replay(by.get(direct.name) ?? "");
		expect(await failures.replayAll()).toBe(2);
		await all();
		expect(await store.query("SELECT state, count(*) AS n FROM message GROUP BY state")).toEqual([{ state: "sent", n: 3 }]);
		expect(mailed).toEqual(["vol@example.org"]);
		expect(centre.submitted).toHaveLength(2);
		expect(failedText(await failures.list(), 3)).toBe("3 go again.\nNo message has failed for good.\n");
		expect(await store.query("SELECT count(*) AS n FROM ledger_entry WHERE action = 'message sent again'")).toEqual([{ n: 3 }]);
	});
});
