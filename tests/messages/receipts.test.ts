import fc from "fast-check";
import { deliveryOf, FAILED, isFailed } from "../../src/messages/delivery.js";
import { Dispatcher } from "../../src/messages/dispatcher.js";
import type { Notifier } from "../../src/messages/notifier.js";
import { type Receipt, Receipts } from "../../src/messages/receipts.js";
import type { MessageRow, ReceiptState } from "../../src/messages/rows.js";
import { HOUR_MS, VirtualClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { SeededRandomness } from "../../src/time/randomness.js";
import { aMessage, anArea, aPerson, clear, THURSDAY_NOON_MS } from "../support/builders.js";
import { named, TestNotifier } from "../support/notifiers.js";
import { newStore, onEachDatabase } from "../support/stores.js";

const silent = { debug() {}, info() {}, warn() {}, error() {} } as never;

onEachDatabase("receipts", (kind) => {
	let store: Awaited<ReturnType<typeof newStore>>;
	let clock: VirtualClock;
	let ids: Ids;
	let areaId: string;
	let woken: string[];

	beforeAll(async () => {
		store = await newStore(kind);
	});
	afterAll(() => store.remove());
	beforeEach(async () => {
		await clear(store);
		clock = new VirtualClock(THURSDAY_NOON_MS);
		ids = new Ids(clock, new SeededRandomness(1));
		areaId = (await anArea(store)).id;
		woken = [];
	});

	/** A text channel that takes everything in so many segments, `s1-1`, `s1-2`; and e-mail, which has no ids. */
	function channels(segments = 1) {
		let sent = 0;
		const sms = new TestNotifier("sms", () => {
			sent++;
			return {
				kind: "accepted",
				answer: "taken",
				channelMessageIds: Array.from({ length: segments }, (_, i) => `s${sent}-${i + 1}`),
			};
		});
		return { sms, email: new TestNotifier("email") };
	}
	const receiptsFor = (...notifiers: Notifier[]) =>
		new Receipts(
			store,
			clock,
			ids,
			(_, messageIds) => void woken.push(...messageIds),
			() => notifiers.map(({ name }) => name),
		);
	const dispatcherFor = (...notifiers: Notifier[]) =>
		new Dispatcher(
			{ store, clock, randomness: new SeededRandomness(1), ids, notifiers: named(...notifiers), log: silent },
			{ leaseMs: 60_000, sendTimeoutMs: 15_000, sendTries: 7, sendConcurrency: 8 },
		);
	const told = (channelMessageId: string, state: ReceiptState, over: Partial<Receipt> = {}): Receipt => ({
		channel: "sms",
		channelMessageId,
		state,
		reason: null,
		atMs: clock.nowMs(),
		...over,
	});
	const rowOf = async (id: string) =>
		(await store.query<MessageRow & Record<string, never>>("SELECT * FROM message WHERE id = $1", [id]))[0]!;
	const receiptRows = () =>
		store.query<{ channelMessageId: string; messageId: string | null; state: string; segment: number | null }>(
			"SELECT channel_message_id, message_id, state, segment FROM message_receipt ORDER BY channel_message_id",
		);

	async function sent(segments = 1, preferred = ["sms", "email"]) {
		const { sms, email } = channels(segments);
		const person = await aPerson(store, { areaId, channels: preferred });
		const message = await aMessage(store, { recipientId: person.id });
		const dispatcher = dispatcherFor(sms, email);
		await dispatcher.dispatchReady();
		return { sms, email, message, dispatcher, receipts: receiptsFor(sms, email) };
	}

	it("find the message by the channel's own ids, segment by segment, as soon as the channel has taken it", async () => {
		const { message, receipts } = await sent(2);
		expect(await receiptRows()).toEqual([
			{ channelMessageId: "s1-1", messageId: message.id, state: "accepted", segment: 1 },
			{ channelMessageId: "s1-2", messageId: message.id, state: "accepted", segment: 2 },
		]);
		expect(await receipts.take([told("s1-1", "delivered"), told("s1-2", "delivered")])).toEqual({ taken: 2, unknown: 0 });
		expect((await receiptRows()).map(({ state }) => state)).toEqual(["delivered", "delivered"]);
		expect(await rowOf(message.id)).toMatchObject({ state: "sent", channel: "sms" });
	});

	it("send what did not arrive by SMS to the person's e-mail, and keep why", async () => {
		const { message, receipts, dispatcher, email, sms } = await sent(2);
		await receipts.take([told("s1-1", "delivered"), told("s1-2", "failed", { reason: "UNDELIV 001" })]);
		expect(await rowOf(message.id)).toMatchObject({ state: "waiting", channel: "email", tries: 0, nextTryAtMs: clock.nowMs() });
		expect(woken).toEqual([message.id]);
		await dispatcher.dispatchReady();
		expect(await rowOf(message.id)).toMatchObject({ state: "sent", channel: "email" });
		expect([sms.sent.length, email.sent.length]).toEqual([1, 1]);
		expect(await store.query("SELECT channel, reason FROM message_failure")).toEqual([
			{ channel: "sms", reason: "told afterwards: failed (UNDELIV 001)" },
		]);
	});

	it("make a message failed where the person has no other channel, and sent again when it arrives after all", async () => {
		const { message, receipts } = await sent(1, ["sms"]);
		await receipts.take([told("s1-1", "expired")]);
		expect(await rowOf(message.id)).toMatchObject({ state: "failed", nextTryAtMs: null, answer: "told afterwards: expired" });
		expect(woken).toEqual([]);
		await receipts.take([told("s1-1", "delivered")]);
		expect(await rowOf(message.id)).toMatchObject({ state: "sent", answer: "delivered" });
	});

	it("take back the e-mail that waits when the SMS arrives after all", async () => {
		const { message, receipts, dispatcher, email } = await sent();
		await receipts.take([told("s1-1", "failed")]);
		await receipts.take([told("s1-1", "delivered")]);
		expect(await dispatcher.dispatchReady()).toBe(0);
		expect(await rowOf(message.id)).toMatchObject({ state: "sent", channel: "sms" });
		expect(email.sent).toEqual([]);
	});

	it("wait for the person's morning: told at 21:00 that it did not arrive, the e-mail goes at 06:00", async () => {
		clock.moveTo(THURSDAY_NOON_MS + 7 * HOUR_MS);
		const { sms, email } = channels();
		const person = await aPerson(store, { areaId, channels: ["sms", "email"] });
		const message = await aMessage(store, { recipientId: person.id });
		await dispatcherFor(sms, email).dispatchReady();
		clock.advance(2 * HOUR_MS);
		await receiptsFor(sms, email).take([told("s1-1", "failed")]);
		expect(await rowOf(message.id)).toMatchObject({ state: "waiting", nextTryAtMs: THURSDAY_NOON_MS + 18 * HOUR_MS });
		expect(woken).toEqual([]);
	});

	it("send nothing on that was taken more than 12 h ago: it says 'today' and isn't true any more", async () => {
		const { message, receipts } = await sent();
		clock.advance(24 * HOUR_MS);
		await receipts.take([told("s1-1", "expired")]);
		expect(await rowOf(message.id)).toMatchObject({ state: "failed", channel: "sms" });
	});

	it("are kept when they are quicker than the channel's answer to the send, and count then", async () => {
		const { sms, email } = channels();
		const receipts = receiptsFor(sms, email);
		expect(await receipts.take([told("s1-1", "failed")])).toEqual({ taken: 1, unknown: 1 });
		const person = await aPerson(store, { areaId, channels: ["sms", "email"] });
		const message = await aMessage(store, { recipientId: person.id });
		await dispatcherFor(sms, email).dispatchReady();
		expect(await receiptRows()).toMatchObject([{ channelMessageId: "s1-1", messageId: message.id, state: "failed" }]);
		expect(await rowOf(message.id)).toMatchObject({ state: "waiting", channel: "email" });
	});

	it("of what isn't known here are kept without a message", async () => {
		const receipts = receiptsFor(...Object.values(channels()));
		expect(await receipts.take([told("x-1", "delivered"), told("x-1", "accepted"), told("x-2", "failed")])).toMatchObject({
			taken: 3,
			unknown: 2,
		});
		expect(await receiptRows()).toMatchObject([
			{ channelMessageId: "x-1", messageId: null, state: "delivered" },
			{ channelMessageId: "x-2", messageId: null, state: "failed" },
		]);
	});

	it("begin anew where a channel uses an id for another message", async () => {
		const { receipts } = await sent(1, ["sms"]);
		await receipts.take([told("s1-1", "failed")]);
		const person = await aPerson(store, { areaId, channels: ["sms"] });
		const second = await aMessage(store, { recipientId: person.id });
		const again = channels();
		await dispatcherFor(again.sms).dispatchReady();
		expect(await receiptRows()).toMatchObject([{ channelMessageId: "s1-1", messageId: second.id, state: "accepted" }]);
		expect(await rowOf(second.id)).toMatchObject({ state: "sent" });
	});

	it("come to the same in every order and however often each is told, in one post or in many", async () => {
		const events = [
			told("s1-1", "accepted", { atMs: 1 }),
			told("s1-1", "expired", { atMs: 3, reason: "late" }),
			told("s1-1", "failed", { atMs: 2 }),
			told("s1-1", "delivered", { atMs: 2 }),
			told("s1-2", "failed", { atMs: 5, reason: "worse" }),
			told("s1-2", "expired", { atMs: 4 }),
			told("s1-2", "accepted", { atMs: 9 }),
		];
		const { receipts } = await sent(2, ["sms"]);
		await fc.assert(
			fc.asyncProperty(
				fc.shuffledSubarray([...events, ...events], { minLength: 14 }),
				fc.boolean(),
				async (shuffled, inOnePost) => {
					await store.work.run((tx) => tx.query("UPDATE message_receipt SET state = 'accepted', at_ms = 0, reason = NULL"));
					if (inOnePost) await receipts.take(shuffled);
					else for (const event of shuffled) await receipts.take([event]);
					expect(await store.query("SELECT state, at_ms, reason FROM message_receipt ORDER BY channel_message_id")).toEqual([
						{ state: "delivered", atMs: 2, reason: null },
						{ state: "failed", atMs: 5, reason: "worse" },
					]);
				},
			),
			{ numRuns: kind === "sqlite" ? 40 : 10 },
		);
	});

	it("that come one by one at the same moment are written together, and one that can't be kept takes none with it", async () => {
		const { receipts } = await sent(2, ["sms"]);
		const many = Array.from({ length: 60 }, (_, i) => told(`x-${i}`, "delivered"));
		const broken = told("broken", "delivered", { atMs: Number.NaN });
		const units = jest.spyOn(store.work, "run");
		const outcomes = await Promise.allSettled([...many, told("s1-1", "delivered")].map((one) => receipts.take([one])));
		expect(units).toHaveBeenCalledTimes(1);
		expect(outcomes.at(-1)).toEqual({ status: "fulfilled", value: { taken: 1, unknown: 0 } });
		expect(outcomes.slice(0, -1).every((one) => one.status === "fulfilled" && one.value.unknown === 1)).toBe(true);
		const mixed = await Promise.allSettled([broken, told("s1-2", "delivered")].map((one) => receipts.take([one])));
		expect(mixed.map(({ status }) => status)).toEqual(["rejected", "fulfilled"]);
		expect((await receiptRows()).filter(({ messageId }) => messageId).map(({ state }) => state)).toEqual([
			"delivered",
			"delivered",
		]);
		units.mockRestore();
	});

	it("of two segments that come at the same moment both count", async () => {
		const { message, receipts } = await sent(2, ["sms"]);
		await receipts.take([told("s1-1", "expired"), told("s1-2", "expired")]);
		expect(await rowOf(message.id)).toMatchObject({ state: "failed" });
		await Promise.all([receipts.take([told("s1-1", "delivered")]), receipts.take([told("s1-2", "delivered")])]);
		expect(await rowOf(message.id)).toMatchObject({ state: "sent" });
	});
});

describe("what receipts come to", () => {
	const of = (...states: ReceiptState[]) => states.map((state) => ({ claim: 1, state }));
	it.each<[ReceiptState[], ReceiptState | undefined]>([
		[[], undefined],
		[["accepted"], "accepted"],
		[["delivered", "accepted"], "accepted"],
		[["delivered", "delivered"], "delivered"],
		[["delivered", "expired"], "expired"],
		[["expired", "failed", "accepted"], "failed"],
	])("segments that are %j make the message %s", (states, expected) => expect(deliveryOf(of(...states))).toBe(expected));

	it("is what the last sending came to, unless an earlier one arrived", () => {
		const first = (state: ReceiptState) => ({ claim: 1, state });
		const second = (state: ReceiptState) => ({ claim: 2, state });
		expect(deliveryOf([first("failed"), second("accepted")])).toBe("accepted");
		expect(deliveryOf([first("delivered"), second("failed")])).toBe("delivered");
		expect(deliveryOf([second("failed"), first("accepted")])).toBe("failed");
	});

	it("is a failure in one state alone, by the function and in statements alike", () => {
		const states = ["waiting", "claimed", "sent", "failed", "withdrawn"] as const;
		expect(states.filter((state) => isFailed({ state }))).toEqual([FAILED]);
	});
});
