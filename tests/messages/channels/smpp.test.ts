import type { AddressInfo } from "node:net";
import { createServer } from "node:net";
import fc from "fast-check";
import { pino } from "pino";
import { Deliveries } from "../../../src/messages/channels/smpp/deliveries.js";
import { SmppNotifier } from "../../../src/messages/channels/smpp/notifier.js";
import { receiptIn } from "../../../src/messages/channels/smpp/receipt.js";
import type { Incoming } from "../../../src/messages/inbound/incoming.js";
import { Inbox } from "../../../src/messages/inbox.js";
import type { Receipt } from "../../../src/messages/receipts.js";
import { partsOfText, segmentsOf } from "../../../src/messages/segments.js";
import { smpp } from "../../../src/settings/channels/smpp.js";
import { VirtualClock } from "../../../src/time/clock.js";
import { SeededRandomness } from "../../../src/time/randomness.js";
import { type Behaviour, type SmppPeer, smppPeer } from "../../support/smpp-peer.js";
import { outgoing } from "./a-message.js";

const NOW_MS = Date.UTC(2026, 2, 5, 9);

class KeptInbox extends Inbox {
	readonly texts: Incoming[] = [];
	readonly told: Receipt[] = [];
	isFull = false;

	async text(incoming: Incoming): Promise<void> {
		if (this.isFull) throw new Error("the database is away");
		this.texts.push(incoming);
	}

	async receipts(receipts: readonly Receipt[]): Promise<void> {
		if (this.isFull) throw new Error("the database is away");
		this.told.push(...receipts);
	}
}

describe("the channel of a message centre by SMPP 3.4", () => {
	const ends: (() => Promise<void>)[] = [];
	afterEach(async () => {
		for (const end of ends.splice(0).reverse()) await end();
	});

	const settings = {
		host: "127.0.0.1",
		systemId: "jars",
		password: "invented",
		source: "Jars",
		answerSeconds: 0.5,
		reconnectSeconds: 0.01,
	};
	const lines: string[] = [];

	function notifierFor(port: number, over: object = {}) {
		const inbox = new KeptInbox();
		const clock = new VirtualClock(NOW_MS);
		const log = pino({ level: "info" }, { write: (line: string) => void lines.push(line) });
		const notifier = new SmppNotifier({
			settings: smpp.parse({ ...settings, port, ...over }),
			clock,
			log,
			randomness: new SeededRandomness(1),
			inbox,
		});
		ends.push(() => notifier.close());
		return { notifier, inbox, clock };
	}

	async function linked(behaviour: Partial<Behaviour> = {}, over: object = {}) {
		const peer = await smppPeer(behaviour);
		ends.push(() => peer.close());
		return { peer, ...notifierFor(peer.port, over) };
	}

	const shortMessage = (peer: SmppPeer, at: number) =>
		peer.submitted[at]?.["short_message"] as { message: string; udh?: Buffer[] };
	const textOf = (length: number, character = "a") => outgoing({ text: character.repeat(length) });

	it("binds as transceiver with its name and password, and submits with a receipt asked for and the alphabet named", async () => {
		const { peer, notifier } = await linked();
		expect(await notifier.send(outgoing())).toEqual({ kind: "accepted", answer: "id id1", channelMessageIds: ["id1"] });
		expect(peer.received[0]).toMatchObject({
			command: "bind_transceiver",
			system_id: "jars",
			password: "invented",
			interface_version: 0x34,
		});
		expect(peer.submitted[0]).toMatchObject({
			source_addr: "Jars",
			source_addr_ton: 5,
			destination_addr: "447700900002",
			dest_addr_ton: 1,
			dest_addr_npi: 1,
			registered_delivery: 1,
			data_coding: 0,
			esm_class: 0,
		});
		expect(shortMessage(peer, 0).message).toBe("Test jar B1 today.");
	});

	// Lengths: 3GPP TS 23.040, section 9.2.3.24 (160/153 septets, 70/67 code units); header: section 9.2.3.24.1.
	it.each([
		["161 GSM characters", textOf(161), 0, [153, 8]],
		["71 Cyrillic letters", textOf(71, "ж"), 8, [67, 4]],
		["67 characters outside the basic plane", outgoing({ text: "😀".repeat(67) }), 8, [66, 66, 2]],
		["153 euro signs", textOf(153, "€"), 0, [76, 76, 1]],
	])("cuts %s into segments that a phone puts together", async (_, message, coding, lengths) => {
		const { peer, notifier } = await linked();
		const delivery = await notifier.send(message);
		expect(delivery).toMatchObject({ kind: "accepted", channelMessageIds: lengths.map((_, i) => `id${i + 1}`) });
		expect(peer.submitted.map((_, i) => shortMessage(peer, i).message.length)).toEqual(lengths);
		expect(peer.submitted.map((_, i) => shortMessage(peer, i).message).join("")).toBe(message.text);
		const headers = peer.submitted.map((_, i) => [...(shortMessage(peer, i).udh?.[0] ?? [])]);
		const reference = headers[0]?.[2];
		expect(headers).toEqual(lengths.map((_, i) => [0, 3, reference, lengths.length, i + 1]));
		for (const pdu of peer.submitted) expect(pdu).toMatchObject({ esm_class: 0x40, data_coding: coding });
	});

	it("writes the octets of the GSM alphabet as 3GPP TS 23.038, section 6.2.1 has them, and big-endian UCS-2", async () => {
		const frames: Buffer[] = [];
		const server = createServer((socket) => {
			let rest = Buffer.alloc(0);
			socket.on("error", () => undefined);
			socket.on("data", (data) => {
				rest = Buffer.concat([rest, data]);
				while (rest.length >= 4 && rest.length >= rest.readUInt32BE(0)) {
					const frame = rest.subarray(0, rest.readUInt32BE(0));
					rest = rest.subarray(frame.length);
					frames.push(frame);
					// Header of 16 octets and an empty text, written by hand: length, command with the bit of a response, status, sequence.
					const answer = Buffer.alloc(17);
					answer.writeUInt32BE(17, 0);
					answer.writeUInt32BE((frame.readUInt32BE(4) | 0x80000000) >>> 0, 4);
					answer.writeUInt32BE(frame.readUInt32BE(12), 12);
					socket.write(answer);
				}
			});
		});
		await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
		ends.push(async () => void server.close());
		const { notifier } = notifierFor((server.address() as AddressInfo).port);
		await notifier.send(outgoing({ text: "@£é{[€üà A" }));
		await notifier.send(outgoing({ text: "ж5", messageId: "m2" }));
		const submits = frames.filter((frame) => frame.readUInt32BE(4) === 0x00000004);
		expect(submits[0]?.subarray(-13).toString("hex")).toBe("0001051b281b3c1b657e7f2041");
		expect(submits[0]?.at(-14)).toBe(13);
		expect(submits[1]?.subarray(-4).toString("hex")).toBe("04360035");
	});

	it.each([
		[0x58, { forGood: false, throttled: true, retryAfterMs: 5000 }],
		[0x14, { forGood: false, throttled: true, retryAfterMs: 5000 }],
		[0x08, { forGood: false }],
		[0x45, { forGood: false }],
		[0xff, { forGood: false }],
		[0x0b, { forGood: true }],
		[0x01, { forGood: true }],
	])("takes status %i for what SMPP 3.4, section 5.1.3 means by it", async (status, expected) => {
		const { notifier } = await linked({ submit: () => ({ command_status: status }) });
		const delivery = await notifier.send(outgoing());
		expect(delivery).toMatchObject({ kind: "refused", ...expected });
		if (!("throttled" in expected)) expect(delivery).not.toHaveProperty("throttled");
	});

	it("sends only the segment again that was refused, and tells the ids of all", async () => {
		let sent = 0;
		const { peer, notifier } = await linked({
			submit: () => (++sent === 2 ? { command_status: 0x58 } : { message_id: `s${sent}` }),
		});
		expect(await notifier.send(textOf(161))).toMatchObject({ kind: "refused", throttled: true });
		expect(await notifier.send(textOf(161))).toMatchObject({ kind: "accepted", channelMessageIds: ["s1", "s3"] });
		expect(peer.submitted).toHaveLength(3);
		expect(shortMessage(peer, 2).udh?.[0]?.[4]).toBe(2);
	});

	it("has no more segments on their way than the window: 3 of 10", async () => {
		const answers: (() => void)[] = [];
		const { peer, notifier } = await linked(
			{ submit: () => new Promise((resolve) => void answers.push(() => resolve({ message_id: "x" }))) },
			{ window: 3, answerSeconds: 20 },
		);
		const all = Promise.all(Array.from({ length: 10 }, (_, i) => notifier.send(outgoing({ messageId: `m${i}` }))));
		for (let answered = 0; answered < 10; answered++) {
			const open = Math.min(3, 10 - answered);
			while (answers.length < open) await new Promise((resolve) => setImmediate(resolve));
			for (let turn = 0; turn < 20; turn++) await new Promise((resolve) => setImmediate(resolve));
			expect([answers.length, peer.submitted.length]).toEqual([open, answered + open]);
			answers.shift()?.();
		}
		expect((await all).every(({ kind }) => kind === "accepted")).toBe(true);
	});

	it("refuses for good whoever has no number, and an empty text", async () => {
		const { notifier } = notifierFor(1);
		expect(await notifier.send(outgoing({ recipient: { phoneE164: null } }))).toMatchObject({ forGood: true });
		expect(await notifier.send(outgoing({ text: "" }))).toMatchObject({ forGood: true });
	});

	describe("receipts and texts that come on the same link", () => {
		async function open(over: object = {}) {
			const all = await linked({}, over);
			all.notifier.open();
			await all.peer.until(all.peer.isBound);
			return all;
		}
		const receiptText = (id: string, stat: string, err = "000") =>
			`id:${id} sub:001 dlvrd:001 submit date:2603050900 done date:2603050901 stat:${stat} err:${err} text:Test jar B1`;

		it("are answered with 0 once they are kept, and with ESME_RX_T_APPN where they could not be", async () => {
			const { peer, inbox } = await open();
			const receipt = { esm_class: 0x04, source_addr: "447700900002", short_message: receiptText("id1", "DELIVRD") };
			inbox.isFull = true;
			expect(await peer.deliver(receipt)).toBe(0x64);
			expect(await peer.deliver({ source_addr: "447700900002", short_message: "3" })).toBe(0x64);
			inbox.isFull = false;
			expect(await peer.deliver(receipt)).toBe(0);
			expect(inbox.told).toEqual([
				{ channel: "smpp", channelMessageId: "id1", state: "delivered", reason: "DELIVRD", atMs: NOW_MS },
			]);
		});

		it("take the id and state from the optional parameters before the text", async () => {
			const { peer, inbox } = await open();
			await peer.deliver({ esm_class: 0x04, receipted_message_id: "A7", message_state: 5, short_message: "?" });
			expect(inbox.told).toMatchObject([{ channelMessageId: "A7", state: "failed", reason: "state 5" }]);
		});

		it("find the message where the receipt writes in decimal what the answer had in hexadecimal", async () => {
			const { peer, notifier, inbox } = await open({ receiptId: "decimal" });
			peer.behaviour.submit = () => ({ message_id: "0A1B2C3D" });
			expect(await notifier.send(outgoing())).toMatchObject({ channelMessageIds: ["a1b2c3d"] });
			await peer.deliver({ esm_class: 0x04, short_message: receiptText("0169552957", "EXPIRED") });
			expect(inbox.told).toMatchObject([{ channelMessageId: "a1b2c3d", state: "expired" }]);
		});

		it("are a person's text in either alphabet, from a number in the one form, the same once within ten minutes", async () => {
			const { peer, inbox, clock } = await open();
			const reply = { source_addr: "447700900002", source_addr_ton: 1, data_coding: 0, short_message: "K7M4X 3 {ok}" };
			await peer.deliver(reply);
			await peer.deliver(reply);
			await peer.deliver({ ...reply, data_coding: 8, short_message: "K7M4X ٣" });
			clock.advance(600_000);
			await peer.deliver(reply);
			expect(inbox.texts.map(({ channel, fromAddress, body }) => [channel, fromAddress, body])).toEqual([
				["smpp", "+447700900002", "K7M4X 3 {ok}"],
				["smpp", "+447700900002", "K7M4X 3 {ok}"],
				["smpp", "+447700900002", "K7M4X ٣"],
				["smpp", "+447700900002", "K7M4X 3 {ok}"],
			]);
			const ids = inbox.texts.map(({ channelMessageId }) => channelMessageId);
			expect(ids[0]).toBe(ids[1]);
			expect(new Set(ids).size).toBe(3);
		});

		it("are put together where a long one comes in parts, in whatever order", async () => {
			const { peer, inbox } = await open();
			const part = (number: number, message: string) => ({
				source_addr: "447700900002",
				data_coding: 0,
				esm_class: 0x40,
				short_message: { udh: Buffer.from([5, 0, 3, 77, 3, number]), message },
			});
			for (const one of [part(2, "the test "), part(3, "went well"), part(1, "K7M4X 3 and ")])
				expect(await peer.deliver(one)).toBe(0);
			expect(inbox.texts.map(({ body }) => body)).toEqual(["K7M4X 3 and the test went well"]);
		});
	});

	describe("a link that fails", () => {
		it("is made again when the peer is gone, and what was on its way fails at once instead of never", async () => {
			const { peer, notifier } = await linked({ submit: () => undefined }, { answerSeconds: 20 });
			const onItsWay = notifier.send(outgoing());
			await peer.until(() => peer.submitted.length === 1);
			peer.cut();
			expect(await onItsWay).toMatchObject(refusedFor("the link was lost before an answer came"));
			peer.behaviour.submit = () => ({ message_id: "after" });
			expect(await notifier.send(outgoing({ messageId: "m2" }))).toMatchObject({
				kind: "accepted",
				channelMessageIds: ["after"],
			});
		});

		it("gives up a submit that isn't answered within its time, and doesn't send it again when the answer comes late", async () => {
			let late: (fields: object) => void = () => undefined;
			const { peer, notifier } = await linked(
				{ submit: () => new Promise((resolve) => (late = resolve as never)) },
				{ answerSeconds: 0.05 },
			);
			expect(await notifier.send(outgoing())).toMatchObject(refusedFor("no answer to submit_sm within 0.05 s"));
			late({ message_id: "late" });
			peer.behaviour.submit = () => ({ message_id: "again" });
			// The late answer came before this one's.
			await notifier.send(outgoing({ messageId: "m2" }));
			expect(peer.submitted).toHaveLength(2);
			expect(await notifier.send(outgoing())).toMatchObject({ kind: "accepted", channelMessageIds: ["late"] });
			expect(peer.submitted).toHaveLength(2);
		});

		it("gives up a peer that takes the call and says nothing", async () => {
			const { notifier } = await linked({ bind: () => undefined }, { answerSeconds: 0.05 });
			expect(await notifier.send(outgoing())).toMatchObject({
				kind: "refused",
				forGood: false,
				reason: expect.stringMatching(/^no answer to bind_transceiver|^there is no link/),
			});
		});

		it("tells at once that nobody listens", async () => {
			const peer = await smppPeer();
			await peer.close();
			const { notifier } = notifierFor(peer.port, { answerSeconds: 20, reconnectSeconds: 20 });
			expect(await notifier.send(outgoing())).toMatchObject(refusedFor("the message centre can't be reached (ECONNREFUSED)"));
			// The time-outs are of 20 s: neither is waited for.
			expect(await notifier.send(outgoing())).toMatchObject(refusedFor("there is no link to the message centre"));
		});

		it.each([
			["a length of 4 GiB", Buffer.from("ffffffff00000005", "hex")],
			["a deliver_sm that ends in the middle of a field", Buffer.from("00000014000000050000000000000001ffffffff", "hex")],
			["a page of HTML", Buffer.from("<html><body>Bad gateway</body></html>".repeat(20))],
		])("is made again after the peer has sent %s", async (_, garbage) => {
			let links = 0;
			const server = createServer((socket) => {
				const isFirst = links++ === 0;
				socket.on("error", () => undefined);
				socket.on("data", (data) => {
					for (let at = 0; at + 16 <= data.length; at += data.readUInt32BE(at)) {
						const command = data.readUInt32BE(at + 4);
						if (isFirst && command === 0x00000004) socket.write(garbage);
						if (isFirst && command !== 0x00000009) continue;
						const answer = Buffer.alloc(17);
						answer.writeUInt32BE(17, 0);
						answer.writeUInt32BE((command | 0x80000000) >>> 0, 4);
						answer.writeUInt32BE(data.readUInt32BE(at + 12), 12);
						socket.write(answer);
					}
				});
			});
			await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
			ends.push(async () => void server.close());
			const port = (server.address() as AddressInfo).port;
			const { notifier } = notifierFor(port, { answerSeconds: 0.1, enquireSeconds: 0.05 });
			expect(await notifier.send(outgoing())).toMatchObject({ kind: "refused", forGood: false });
			const until = performance.now() + 10_000;
			while (performance.now() < until) {
				if ((await notifier.send(outgoing({ messageId: "m2" }))).kind === "accepted") return;
				await new Promise((resolve) => setImmediate(resolve));
			}
			throw new Error("the link did not come back");
		});

		it("with a wrong password is an alarm in the log, without the password, and nothing is sent", async () => {
			lines.length = 0;
			const { peer, notifier } = await linked({ bind: () => ({ command_status: 0x0e }) });
			expect(await notifier.send(outgoing())).toMatchObject(refusedFor("bind was refused with SMPP status 0xe"));
			expect(peer.submitted).toEqual([]);
			expect(lines.some((line) => JSON.parse(line).level === 50)).toBe(true);
			expect(lines.join()).not.toContain("invented");
		});

		it("is asked after when it is quiet, and made again when two questions have no answer", async () => {
			let binds = 0;
			const { peer, notifier } = await linked(
				{
					enquire: () => binds > 1,
					bind: () => {
						binds++;
						return {};
					},
				},
				{ enquireSeconds: 0.02, answerSeconds: 0.05 },
			);
			notifier.open();
			await peer.until(() => binds === 2 && peer.isBound());
			const before = peer.received.length;
			await peer.until(() => peer.received.slice(before).filter(({ command }) => command === "enquire_link").length > 3);
			expect(binds).toBe(2);
		});

		it("is ended with unbind when the service stops", async () => {
			const { peer, notifier } = await linked();
			await notifier.send(outgoing());
			await notifier.close();
			expect(peer.received.at(-1)?.command).toBe("unbind");
			expect(await notifier.send(outgoing())).toMatchObject(refusedFor("the link is closed"));
		});
	});
});

/** For now, with these words. */
const refusedFor = (reason: string) => ({ kind: "refused", forGood: false, reason });

describe("a receipt's text", () => {
	it.each([
		["id:1 stat:DELIVRD err:000 text:x", "1", "delivered", "DELIVRD"],
		["id:a-b sub:001 dlvrd:000 submit date:x done date:y stat:UNDELIV err:011 text:stat:DELIVRD", "a-b", "failed", "UNDELIV 011"],
		["ID:1 STAT:expired", "1", "expired", "EXPIRED"],
		["id:1 stat:REJECTD", "1", "failed", "REJECTD"],
		["id:1 stat:DELETED", "1", "failed", "DELETED"],
		["id:1 stat:ACCEPTD", "1", "accepted", "ACCEPTD"],
		["id:1 stat:ENROUTE", "1", "accepted", "ENROUTE"],
		["id:1 stat:UNKNOWN", "1", "accepted", "UNKNOWN"],
	])("%j is of %s: %s", (text, id, state, reason) => expect(receiptIn(text, {}, "same")).toEqual({ id, state, reason }));

	it("that can't be read is of something unknown, and no more than accepted", () => {
		expect(receiptIn("\u0000garbage", {}, "same")).toEqual({
			id: expect.stringMatching(/^unreadable-/),
			state: "accepted",
			reason: "unreadable",
		});
	});
});

describe("what a centre hands in", () => {
	it("never breaks the reader, whatever its fields hold: 2000 random ones are receipts or texts", async () => {
		const inbox = new KeptInbox();
		const deliveries = new Deliveries({ receiptId: "decimal" }, inbox, new VirtualClock(NOW_MS));
		const bytes = fc.uint8Array({ maxLength: 40 }).map((value) => Buffer.from(value));
		const text = fc.oneof(fc.string({ unit: "binary", maxLength: 60 }), bytes, fc.constant("id:1 stat:DELIVRD"));
		const fields = fc.record(
			{
				esm_class: fc.nat(255),
				source_addr: fc.oneof(fc.string(), fc.constant("44\u00007")),
				short_message: fc.oneof(fc.record({ message: text, udh: fc.array(bytes, { maxLength: 3 }) }, { requiredKeys: [] }), text),
				message_payload: fc.record({ message: text }),
				receipted_message_id: fc.oneof(fc.string(), bytes),
				message_state: fc.nat(255),
				user_message_reference: fc.nat(65_535),
			},
			{ requiredKeys: [] },
		);
		let handedIn = 0;
		await fc.assert(
			fc.asyncProperty(fields, async (pdu) => {
				handedIn++;
				await deliveries.take(pdu as never);
			}),
			{ numRuns: 2000 },
		);
		expect(handedIn).toBe(2000);
		expect(inbox.told.length + inbox.texts.length).toBeGreaterThan(1000);
		for (const { state, channelMessageId, reason } of inbox.told) {
			expect(["accepted", "delivered", "failed", "expired"]).toContain(state);
			expect(channelMessageId).toMatch(/^[^\0]+$/);
			expect(reason).not.toContain("\0");
		}
		for (const { body, fromAddress, channelMessageId } of inbox.texts)
			expect(`${body}${fromAddress}${channelMessageId}`).not.toContain("\0");
	});
});

describe("the parts of a text", () => {
	it.each([
		"",
		"a",
		"a".repeat(160),
		"a".repeat(161),
		`${"a".repeat(152)}€${"a".repeat(152)}`,
		"e\u0301".repeat(200),
		"😀".repeat(67),
		"ж".repeat(134),
	])("are as many as are counted, and together the text: %j", (text) => {
		const parts = partsOfText(text);
		expect(parts).toHaveLength(segmentsOf(text).segments);
		expect(parts.join("")).toBe(text.normalize("NFC"));
	});
});
