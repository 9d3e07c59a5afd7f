import type { Notifiers } from "../../src/messages/channels/registry.js";
import { Dispatcher, type DispatcherOptions } from "../../src/messages/dispatcher.js";
import type { Delivery } from "../../src/messages/notifier.js";
import type { MessageRow } from "../../src/messages/rows.js";
import { HOUR_MS, MINUTE_MS, VirtualClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { Randomness, SeededRandomness } from "../../src/time/randomness.js";
import { aMessage, anArea, aPerson, aTask, clear, messages, THURSDAY_NOON_MS } from "../support/builders.js";
import { accepted, named, refusedForGood, refusedForNow, TestNotifier } from "../support/notifiers.js";
import { newStore, onEachDatabase } from "../support/stores.js";

/** Halfway between the ends of every jitter. */
class Middle extends Randomness {
	fraction(): number {
		return 0.5;
	}
}

const silent = { debug() {}, info() {}, warn() {}, error() {} };
const OPTIONS: DispatcherOptions = { leaseMs: 60_000, sendTimeoutMs: 15_000, sendTries: 7, sendConcurrency: 8 };

onEachDatabase("the dispatcher", (kind) => {
	let store: Awaited<ReturnType<typeof newStore>>;
	let clock: VirtualClock;
	let areaId: string;

	beforeAll(async () => {
		store = await newStore(kind);
	});
	afterAll(() => store.remove());
	beforeEach(async () => {
		await clear(store);
		clock = new VirtualClock(THURSDAY_NOON_MS);
		areaId = (await anArea(store)).id;
	});

	const logged: [object, string][] = [];
	const dispatcher = (notifiers: Notifiers, options: Partial<DispatcherOptions> = {}, randomness: Randomness = new Middle()) => {
		logged.length = 0;
		const keep = (fields: object, text: string) => void logged.push([fields, text]);
		const log = { ...silent, warn: keep, error: keep } as never;
		return new Dispatcher(
			{ store, clock, randomness, ids: new Ids(clock, new SeededRandomness(1)), notifiers, log },
			{ ...OPTIONS, ...options },
		);
	};
	const rowOf = async (id: string) =>
		(await store.query<MessageRow & Record<string, never>>("SELECT * FROM message WHERE id = $1", [id]))[0]!;
	const failuresOf = (id: string) =>
		store.query<{ channel: string; reason: string; forGood: boolean | number }>(
			"SELECT channel, reason, for_good FROM message_failure WHERE message_id = $1 ORDER BY id",
			[id],
		);

	it("sends a ready message in the person's language and records who took it and when", async () => {
		const person = await aPerson(store, { areaId, language: "fr-CD", name: "Chantal Invented" });
		const message = await aMessage(store, { recipientId: person.id, urgent: true });
		const notifier = new TestNotifier();
		expect(await dispatcher(named(notifier)).dispatchReady()).toBe(1);
		expect(notifier.sent).toEqual([
			{
				idempotencyKey: message.idempotencyKey,
				messageId: message.id,
				taskId: null,
				text: expect.stringMatching(/^Bidon INV-J01 trop faible \(2,4 g\/L\)/),
				language: "fr-CD",
				urgent: true,
				recipient: { personId: person.id, name: "Chantal Invented", phoneE164: person.phoneE164, email: null },
				attemptedAtMs: THURSDAY_NOON_MS,
			},
		]);
		expect(await rowOf(message.id)).toMatchObject({
			state: "sent",
			channel: "test",
			answer: "taken",
			endedAtMs: THURSDAY_NOON_MS,
			nextTryAtMs: null,
			tries: 0,
			claim: 1,
		});
	});

	it("keeps what each text cost when it went: 1 part of the GSM alphabet in English, 2 of UCS-2 in Arabic, nothing for one that was refused", async () => {
		const [english, arabic, refused] = await Promise.all(
			["en", "ar", "en"].map(async (language) => {
				const person = await aPerson(store, { areaId, language });
				return aMessage(store, { recipientId: person.id });
			}),
		);
		const notifier = new TestNotifier("test", ({ messageId }) => (messageId === refused!.id ? refusedForGood() : accepted()));
		await dispatcher(named(notifier)).dispatchReady();
		const costs = await Promise.all([english, arabic, refused].map((row) => rowOf(row!.id)));
		expect(costs.map(({ segments, encoding }) => [segments, encoding])).toEqual([
			[1, "GSM-7"],
			[2, "UCS-2"],
			[null, null],
		]);
	});

	it("sends 500 messages exactly 500 times when 16 claimers work at once", async () => {
		const person = await aPerson(store, { areaId });
		await messages(store, 500, { recipientId: person.id });
		const notifier = new TestNotifier("test", async () => {
			await new Promise((resolve) => setImmediate(resolve));
			return accepted();
		});
		const claimers = Array.from({ length: 16 }, () => dispatcher(named(notifier), { batchSize: 10 }));
		const claimed = await Promise.all(
			claimers.map(async (claimer) => {
				let sum = 0;
				for (let taken = -1; taken !== 0; sum += taken) taken = await claimer.dispatchReady();
				return sum;
			}),
		);
		expect(notifier.sent).toHaveLength(500);
		expect(new Set(notifier.sent.map((sent) => sent.messageId)).size).toBe(500);
		expect(claimed.reduce((a, b) => a + b)).toBe(500);
		expect(await store.query("SELECT state, count(*) AS n FROM message GROUP BY state")).toEqual([{ state: "sent", n: 500 }]);
	});

	it("sends nothing before its time: a message for 06:00 goes at 06:00 and not a millisecond sooner", async () => {
		const person = await aPerson(store, { areaId });
		const sixMs = THURSDAY_NOON_MS + 18 * HOUR_MS;
		const message = await aMessage(store, { recipientId: person.id, nextTryAtMs: sixMs });
		const notifier = new TestNotifier();
		const one = dispatcher(named(notifier));
		clock.moveTo(sixMs - 1);
		expect(await one.dispatchReady()).toBe(0);
		clock.moveTo(sixMs);
		expect(await one.dispatchReady()).toBe(1);
		expect(await rowOf(message.id)).toMatchObject({ state: "sent", endedAtMs: sixMs });
	});

	it("sends 1050 messages exactly once each when it goes on until nothing is ready, however often it is called meanwhile", async () => {
		const person = await aPerson(store, { areaId });
		await messages(store, 1050, { recipientId: person.id });
		const notifier = new TestNotifier();
		const one = dispatcher(named(notifier));
		await Promise.all(Array.from({ length: 5 }, () => one.dispatchAll()));
		await one.settled();
		expect(notifier.sent).toHaveLength(1050);
		expect(await store.query("SELECT state, count(*) AS n FROM message GROUP BY state")).toEqual([{ state: "sent", n: 1050 }]);
	});

	it("finds a message that became ready while it was looking, if it is called again", async () => {
		const person = await aPerson(store, { areaId });
		const one = dispatcher(named(new TestNotifier()));
		for (let round = 0; round < 20; round++) {
			const looking = one.dispatchAll();
			const message = await aMessage(store, { recipientId: person.id });
			await one.dispatchAll();
			await looking;
			await one.settled();
			expect((await rowOf(message.id)).state).toBe("sent");
		}
	});

	it("holds nothing up behind a send that is stuck: 299 others go out meanwhile", async () => {
		const person = await aPerson(store, { areaId });
		await messages(store, 300, { recipientId: person.id });
		let end: (delivery: Delivery) => void = () => undefined;
		const notifier = new TestNotifier("test", (_, tries) =>
			tries === 1 ? new Promise<Delivery>((resolve) => (end = resolve)) : accepted(),
		);
		const one = dispatcher(named(notifier));
		await one.dispatchAll();
		expect(notifier.sent).toHaveLength(300);
		end(accepted());
		await one.settled();
		expect(await store.query("SELECT count(*) AS n FROM message WHERE state = 'sent'")).toEqual([{ n: 300 }]);
	});

	it("claims no more than two batches while every slot is stuck", async () => {
		const person = await aPerson(store, { areaId });
		await messages(store, 300, { recipientId: person.id });
		const ends: ((delivery: Delivery) => void)[] = [];
		const notifier = new TestNotifier("test", () => new Promise<Delivery>((resolve) => ends.push(resolve)));
		const one = dispatcher(named(notifier), { sendConcurrency: 2, batchSize: 20 });
		void one.dispatchAll();
		while (ends.length < 2) await new Promise((resolve) => setImmediate(resolve));
		for (let turn = 0; turn < 50; turn++) await new Promise((resolve) => setImmediate(resolve));
		const [{ n } = { n: 0 }] = await store.query<{ n: number }>("SELECT count(*) AS n FROM message WHERE state = 'claimed'");
		expect(n).toBeLessThanOrEqual(40);
		const stopped = one.stop(10_000);
		for (const end of ends) end(accepted());
		await stopped;
		expect(await store.query("SELECT state, count(*) AS n FROM message GROUP BY state ORDER BY state")).toEqual([
			{ state: "sent", n: 2 },
			{ state: "waiting", n: 298 },
		]);
	});

	it("sends at most as many at once as it was told, over several batches even", async () => {
		const person = await aPerson(store, { areaId });
		await messages(store, 60, { recipientId: person.id });
		const notifier = new TestNotifier("test", async () => {
			await new Promise((resolve) => setTimeout(resolve, 1));
			return accepted();
		});
		const one = dispatcher(named(notifier), { sendConcurrency: 5, batchSize: 20 });
		await Promise.all([one.dispatchReady(), one.dispatchReady(), one.dispatchReady()]);
		expect(notifier.sent).toHaveLength(60);
		expect(notifier.mostAtOnce).toBe(5);
	});

	it("tries again after 15 s, 60 s, 5 min, 20 min, 1 h and 3 h, and gives up after the seventh failure", async () => {
		const person = await aPerson(store, { areaId });
		const message = await aMessage(store, { recipientId: person.id });
		const notifier = new TestNotifier("test", refusedForNow);
		const one = dispatcher(named(notifier));
		const rests: number[] = [];
		for (let tries = 1; tries < 7; tries++) {
			expect(await one.dispatchReady()).toBe(1);
			const row = await rowOf(message.id);
			expect(row).toMatchObject({ state: "waiting", tries, answer: "busy", endedAtMs: null });
			rests.push(row.nextTryAtMs! - clock.nowMs());
			clock.moveTo(row.nextTryAtMs!);
		}
		// The ladder of the facts on text-message gateways; a jitter of 1 is the middle of 0.5 to 1.5. Common practice, no source.
		expect(rests).toEqual([15_000, MINUTE_MS, 5 * MINUTE_MS, 20 * MINUTE_MS, HOUR_MS, 3 * HOUR_MS]);
		expect(await one.dispatchReady()).toBe(1);
		expect(await rowOf(message.id)).toMatchObject({ state: "failed", tries: 7, nextTryAtMs: null, endedAtMs: clock.nowMs() });
		expect(await failuresOf(message.id)).toHaveLength(7);
		expect(new Set(notifier.sent.map((sent) => sent.idempotencyKey))).toEqual(new Set([message.idempotencyKey]));
	});

	it("rests as long as the channel asks, and leaves the whole channel alone meanwhile without counting that as a failure", async () => {
		const person = await aPerson(store, { areaId });
		const [first, ...others] = await messages(store, 4, { recipientId: person.id });
		const notifier = new TestNotifier("test", (_, tries) =>
			tries === 1 ? { kind: "refused", reason: "HTTP 429", forGood: false, retryAfterMs: 2 * MINUTE_MS } : accepted(),
		);
		const one = dispatcher(named(notifier), { sendConcurrency: 1 });
		expect(await one.dispatchReady()).toBe(4);
		expect(notifier.sent).toHaveLength(1);
		const tried = notifier.sent[0]!.messageId;
		for (const { id } of [first!, ...others]) {
			const row = await rowOf(id);
			expect(row).toMatchObject({ state: "waiting", tries: id === tried ? 1 : 0 });
			expect(row.nextTryAtMs! - THURSDAY_NOON_MS).toBeGreaterThanOrEqual(2 * MINUTE_MS);
			expect(row.nextTryAtMs! - THURSDAY_NOON_MS).toBeLessThan(2 * MINUTE_MS + 10_000);
		}
		clock.advance(2 * MINUTE_MS + 10_000);
		expect(await one.dispatchReady()).toBe(4);
		expect(await store.query("SELECT count(*) AS n FROM message WHERE state = 'sent'")).toEqual([{ n: 4 }]);
	});

	it("takes an exception, and silence until the time-out, for refused for now", async () => {
		const person = await aPerson(store, { areaId });
		const [broken, silentOne] = await messages(store, 2, { recipientId: person.id });
		let signalled = false;
		const notifier = new TestNotifier("test", (message, _, signal) => {
			if (message.messageId === broken!.id)
				throw new TypeError("fetch failed for +447700900123", { cause: Object.assign(new Error(), { code: "ECONNREFUSED" }) });
			signal.addEventListener("abort", () => {
				signalled = true;
			});
			return new Promise<Delivery>(() => undefined);
		});
		expect(await dispatcher(named(notifier), { sendTimeoutMs: 50 }).dispatchReady()).toBe(2);
		expect(signalled).toBe(true);
		expect(await rowOf(broken!.id)).toMatchObject({
			state: "waiting",
			tries: 1,
			answer: "TypeError: fetch failed for [number], because of Error ECONNREFUSED",
		});
		expect(await rowOf(silentOne!.id)).toMatchObject({ state: "waiting", tries: 1, answer: "no answer within 0.05 s" });
	});

	it("moves on to the person's next channel when one refuses for good, and has failed when the last does", async () => {
		const person = await aPerson(store, { areaId, channels: ["gone", "first", "second"] });
		const message = await aMessage(store, { recipientId: person.id });
		const first = new TestNotifier("first", refusedForGood);
		const second = new TestNotifier("second", refusedForGood);
		const one = dispatcher(named(new TestNotifier("other"), first, second));
		await one.dispatchReady();
		expect(await rowOf(message.id)).toMatchObject({ state: "waiting", channel: "second", tries: 0, nextTryAtMs: clock.nowMs() });
		await one.dispatchReady();
		expect(await rowOf(message.id)).toMatchObject({
			state: "failed",
			channel: "second",
			answer: "no such number",
			nextTryAtMs: null,
		});
		expect([first.sent.length, second.sent.length]).toEqual([1, 1]);
		expect((await failuresOf(message.id)).map(({ channel, reason }) => [channel, reason])).toEqual([
			["first", "no such number"],
			["second", "no such number"],
		]);
		expect(await one.dispatchReady()).toBe(0);
	});

	it("moves on to the next channel after the last try on one, with all tries before it again", async () => {
		const person = await aPerson(store, { areaId, channels: ["first", "second"] });
		const message = await aMessage(store, { recipientId: person.id });
		const one = dispatcher(named(new TestNotifier("first", refusedForNow), new TestNotifier("second")), { sendTries: 2 });
		await one.dispatchReady();
		clock.moveTo((await rowOf(message.id)).nextTryAtMs!);
		await one.dispatchReady();
		expect(await rowOf(message.id)).toMatchObject({ state: "waiting", channel: "second", tries: 0 });
		await one.dispatchReady();
		expect(await rowOf(message.id)).toMatchObject({ state: "sent", channel: "second" });
	});

	it("uses the first notifier of the settings for whoever prefers none, and no other", async () => {
		const person = await aPerson(store, { areaId });
		const message = await aMessage(store, { recipientId: person.id });
		const second = new TestNotifier("second");
		await dispatcher(named(new TestNotifier("first", refusedForGood), second)).dispatchReady();
		expect(await rowOf(message.id)).toMatchObject({ state: "failed", channel: "first" });
		expect(second.sent).toEqual([]);
	});

	it("fails a message visibly when none of the person's channels is configured", async () => {
		const person = await aPerson(store, { areaId, channels: ["carrier-pigeon"] });
		const message = await aMessage(store, { recipientId: person.id });
		await dispatcher(named(new TestNotifier())).dispatchReady();
		expect(await rowOf(message.id)).toMatchObject({
			state: "failed",
			answer: "none of the person's channels is configured here: carrier-pigeon",
		});
	});

	it("fails a message visibly when its text can't be made, and sends the others of the batch", async () => {
		const person = await aPerson(store, { areaId });
		const bad = await aMessage(store, { recipientId: person.id, fill: { jar: "INV-J01" } });
		const unknown = await aMessage(store, { recipientId: person.id, text: "jar.strong" });
		const good = await aMessage(store, { recipientId: person.id });
		await dispatcher(named(new TestNotifier())).dispatchReady();
		for (const { id } of [bad, unknown]) expect((await rowOf(id)).state).toBe("failed");
		expect((await rowOf(good.id)).state).toBe("sent");
	});

	it.each([
		["a reminder whose task was closed meanwhile", "retest.again", "done", {}, "withdrawn"],
		["a reminder whose task is open", "retest.again", "open", {}, "sent"],
		["what is told after a task was closed", "jar.weak", "done", {}, "sent"],
		["anything to a person who isn't active any more", "jar.weak", "open", { active: false }, "withdrawn"],
		["anything to a person who wants no messages", "jar.weak", "open", { optedOutAtMs: 1 }, "withdrawn"],
	] as const)("withdraws or sends %s: %s", async (_, text, state, of, expected) => {
		const person = await aPerson(store, { areaId, ...of });
		const task = await aTask(store, { areaId, state });
		const fill = { jar: "INV-J01", strengthGPerL: 2.4, code: "K7M4Q", sampleMl: 1, waterL: 2 };
		const message = await aMessage(store, { recipientId: person.id, taskId: task.id, text, fill });
		const notifier = new TestNotifier();
		await dispatcher(named(notifier)).dispatchReady();
		expect(await rowOf(message.id)).toMatchObject({ state: expected, nextTryAtMs: null, endedAtMs: THURSDAY_NOON_MS });
		expect(notifier.sent).toHaveLength(expected === "sent" ? 1 : 0);
	});

	it("finds a claim again whose holder died, once its lease of 60 s has run out, with the same idempotency key", async () => {
		const person = await aPerson(store, { areaId });
		const message = await aMessage(store, { recipientId: person.id });
		const never = new TestNotifier("test", () => new Promise<Delivery>(() => undefined));
		void dispatcher(named(never)).dispatchReady();
		while (never.sent.length === 0) await new Promise((resolve) => setImmediate(resolve));
		const notifier = new TestNotifier();
		const other = dispatcher(named(notifier));
		clock.advance(59_999);
		expect(await other.dispatchReady()).toBe(0);
		clock.advance(1);
		expect(await other.dispatchReady()).toBe(1);
		expect(notifier.sent[0]!.idempotencyKey).toBe(never.sent[0]!.idempotencyKey);
		expect(await rowOf(message.id)).toMatchObject({ state: "sent", claim: 2 });
	});

	it("lets a sender whose lease ran out record nothing, neither success nor failure", async () => {
		const person = await aPerson(store, { areaId });
		const rows = await messages(store, 2, { recipientId: person.id });
		const ends: ((delivery: Delivery) => void)[] = [];
		const slow = new TestNotifier("test", () => new Promise<Delivery>((resolve) => ends.push(resolve)));
		const ended = dispatcher(named(slow)).dispatchReady();
		while (ends.length < 2) await new Promise((resolve) => setImmediate(resolve));
		clock.advance(60_000);
		const other = dispatcher(named(new TestNotifier("test", () => ({ kind: "refused", reason: "the other's", forGood: false }))));
		expect(await other.dispatchReady()).toBe(2);
		ends[0]!(accepted());
		ends[1]!(refusedForGood());
		await ended;
		for (const { id } of rows) {
			expect(await rowOf(id)).toMatchObject({ state: "waiting", tries: 1, claim: 2, answer: "the other's" });
			expect(await failuresOf(id)).toHaveLength(1);
		}
	});

	it("begins no send that might outlast its lease, and gives the message back uncounted", async () => {
		const person = await aPerson(store, { areaId });
		const rows = await messages(store, 2, { recipientId: person.id });
		const notifier = new TestNotifier("test", () => {
			clock.advance(46_000);
			return accepted();
		});
		const one = dispatcher(named(notifier), { sendConcurrency: 1 });
		expect(await one.dispatchReady()).toBe(2);
		expect(notifier.sent).toHaveLength(1);
		const other = rows.find(({ id }) => id !== notifier.sent[0]!.messageId)!;
		expect(await rowOf(other.id)).toMatchObject({ state: "waiting", tries: 0, nextTryAtMs: clock.nowMs() });
		expect(await one.dispatchReady()).toBe(1);
		expect(notifier.sent).toHaveLength(2);
	});

	it("stops by claiming nothing more, giving back what hasn't begun and waiting for what has", async () => {
		const person = await aPerson(store, { areaId });
		await messages(store, 5, { recipientId: person.id });
		let end: (delivery: Delivery) => void = () => undefined;
		const notifier = new TestNotifier("test", () => new Promise<Delivery>((resolve) => (end = resolve)));
		const one = dispatcher(named(notifier), { sendConcurrency: 1 });
		const batch = one.dispatchReady();
		while (notifier.sent.length === 0) await new Promise((resolve) => setImmediate(resolve));
		const stopped = one.stop(10_000);
		end(accepted());
		await stopped;
		await batch;
		expect(await one.dispatchReady()).toBe(0);
		expect(await store.query("SELECT state, count(*) AS n FROM message GROUP BY state ORDER BY state")).toEqual([
			{ state: "sent", n: 1 },
			{ state: "waiting", n: 4 },
		]);
	});

	it("stops after the given time though a send never ends", async () => {
		const person = await aPerson(store, { areaId });
		await aMessage(store, { recipientId: person.id });
		const notifier = new TestNotifier("test", () => new Promise<Delivery>(() => undefined));
		const one = dispatcher(named(notifier));
		void one.dispatchReady();
		while (notifier.sent.length === 0) await new Promise((resolve) => setImmediate(resolve));
		const beganAt = performance.now();
		await one.stop(50);
		expect(performance.now() - beganAt).toBeLessThan(5000);
	});

	it("writes no text, name or number into the log, whatever goes wrong", async () => {
		const person = await aPerson(store, { areaId, name: "Zawadi Invented" });
		await messages(store, 3, { recipientId: person.id });
		const one = dispatcher(
			named(
				new TestNotifier("test", (message) => {
					throw new Error(`can't send ${message.text} to ${message.recipient.phoneE164}`);
				}),
			),
		);
		await one.dispatchReady();
		const said = JSON.stringify(logged);
		for (const secret of ["INV-J01", "Zawadi", person.phoneE164!, person.phoneE164!.slice(1)]) expect(said).not.toContain(secret);
	});

	it("refuses a lease that isn't longer than a send may take", () => {
		expect(() => dispatcher(named(new TestNotifier()), { leaseMs: 15_000 })).toThrow(/lease/);
	});
});
