import { pino } from "pino";
import { Readiness } from "../../src/api/health/readiness.js";
import { Metrics } from "../../src/api/metrics/metrics.js";
import { Circuits } from "../../src/messages/circuits.js";
import { Dispatcher, type DispatcherOptions } from "../../src/messages/dispatcher.js";
import type { Notifier } from "../../src/messages/notifier.js";
import { HOUR_MS, MINUTE_MS, VirtualClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { Randomness, SeededRandomness } from "../../src/time/randomness.js";
import { aMessage, anArea, aPerson, clear, messages, THURSDAY_NOON_MS } from "../support/builders.js";
import { accepted, named, refusedForGood, refusedForNow, TestNotifier } from "../support/notifiers.js";
import { newStore, onEachDatabase } from "../support/stores.js";

class Least extends Randomness {
	fraction(): number {
		return 0;
	}
}

describe("the circuit of a channel", () => {
	const opened = () => {
		const circuits = new Circuits(3, 15_000, new Least());
		for (let failure = 1; failure <= 3; failure++) circuits.answered("sms", refusedForNow(), 0);
		return circuits;
	};

	it("opens at the third failure for now in a row of 3, and not where an acceptance came between", () => {
		const circuits = new Circuits(3, 15_000, new Least());
		for (const answer of [refusedForNow(), refusedForNow(), accepted(), refusedForNow(), refusedForNow()])
			circuits.answered("sms", answer, 0);
		expect(circuits.state("sms")).toBe("closed");
		expect(circuits.answered("sms", refusedForNow(), 0)).toBe("open");
		expect(circuits.passage("sms", 14_999)).toMatchObject({ may: false, untilMs: 15_000 });
		expect(circuits.passage("email", 0)).toEqual({ may: true });
	});

	it("lets one through after 15 s, then after 30 s, 1 min, 2 min, 4 min, 8 min and never less often than every 10 min", () => {
		const circuits = opened();
		let nowMs = 0;
		const waits: number[] = [];
		for (let probe = 0; probe < 8; probe++) {
			const passage = circuits.passage("sms", nowMs);
			if (passage.may) throw new Error("it let a second one through");
			waits.push((passage.untilMs - nowMs) / 1000);
			nowMs = passage.untilMs;
			expect(circuits.passage("sms", nowMs)).toEqual({ may: true });
			expect(circuits.passage("sms", nowMs)).toMatchObject({ may: false });
			expect(circuits.state("sms")).toBe("probing");
			circuits.answered("sms", refusedForNow(), nowMs);
		}
		expect(waits).toEqual([15, 30, 60, 120, 240, 480, 600, 600]);
	});

	it("closes by an acceptance, by a refusal for good and by a plea for a slower pace, for these come from a channel that works", () => {
		for (const answer of [accepted(), refusedForGood(), { ...refusedForNow(), throttled: true }]) {
			const circuits = opened();
			circuits.passage("sms", 15_000);
			expect(circuits.answered("sms", answer, 15_000)).toBe("closed");
			expect(circuits.passage("sms", 15_000)).toEqual({ may: true });
		}
	});

	it("lets another through where its probe was never answered within 15 s", () => {
		const circuits = opened();
		circuits.passage("sms", 15_000);
		expect(circuits.passage("sms", 29_999)).toMatchObject({ may: false });
		expect(circuits.passage("sms", 30_000)).toEqual({ may: true });
	});
});

onEachDatabase("sending through a channel in trouble", (kind) => {
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

	const dispatcher = (notifiers: Notifier[], options: Partial<DispatcherOptions> = {}) => {
		const randomness = new SeededRandomness(1);
		return new Dispatcher(
			{
				store,
				clock,
				randomness,
				ids: new Ids(clock, randomness),
				notifiers: named(...notifiers),
				log: pino({ level: "silent" }),
			},
			{ leaseMs: 60_000, sendTimeoutMs: 15_000, sendTries: 7, sendConcurrency: 1, ...options },
		);
	};
	const until = async (one: Dispatcher, totalMs: number, stepMs = 5_000) => {
		for (const endMs = clock.nowMs() + totalMs; clock.nowMs() < endMs; clock.advance(stepMs))
			while ((await one.dispatchReady()) > 0);
	};

	it("waits out an outage of 50 min with 40 messages and uses up no more tries than probes, then sends each once", async () => {
		const person = await aPerson(store, { areaId });
		await messages(store, 40, { recipientId: person.id });
		let isUp = false;
		const sms = new TestNotifier("sms", () => (isUp ? accepted() : refusedForNow()));
		const one = dispatcher([sms], { circuitFailures: 5 });
		await until(one, 50 * MINUTE_MS);
		// 5 until it opened, then probes after 15 s, 30 s, 1, 2, 4, 8 min and every 10 to 15 min: no more than 11 within 50 min.
		expect(sms.sent.length).toBeGreaterThanOrEqual(9);
		expect(sms.sent.length).toBeLessThanOrEqual(5 + 11);
		expect(one.circuitStates()).toEqual([{ channel: "sms", circuit: "open" }]);
		expect((await new Metrics(store, clock, undefined, one).text()).text).toContain('jarwatch_channel_up{channel="sms"} 0');
		expect(await new Readiness(store, undefined, undefined, 5000, one).parts()).toContainEqual({
			name: "channels",
			ready: true,
			concern: "failed too often in a row, and messages wait for it: sms",
		});
		expect(await store.query("SELECT state, count(*) AS n FROM message GROUP BY state")).toEqual([{ state: "waiting", n: 40 }]);
		isUp = true;
		const before = sms.sent.length;
		await until(one, 4 * HOUR_MS, 30_000);
		expect(await store.query("SELECT state, count(*) AS n FROM message GROUP BY state")).toEqual([{ state: "sent", n: 40 }]);
		expect(sms.sent.length - before).toBe(40);
		expect(one.circuitStates()).toEqual([{ channel: "sms", circuit: "closed" }]);
	}, 60_000);

	it("sends what is urgent through the person's next channel at once, and what isn't only after an hour", async () => {
		const person = await aPerson(store, { areaId, channels: ["sms", "email"] });
		const sms = new TestNotifier("sms", refusedForNow);
		const email = new TestNotifier("email");
		const one = dispatcher([sms, email], { circuitFailures: 2, sendTries: 50 });
		await messages(store, 2, { recipientId: person.id });
		await one.dispatchReady();
		expect(one.circuitStates()).toEqual([
			{ channel: "sms", circuit: "open" },
			{ channel: "email", circuit: "closed" },
		]);
		const urgent = await aMessage(store, { recipientId: person.id, urgent: true });
		await aMessage(store, { recipientId: person.id });
		await one.dispatchReady();
		expect(email.sent.map(({ messageId }) => messageId)).toEqual([urgent.id]);
		await until(one, 55 * MINUTE_MS, 10_000);
		expect(email.sent).toHaveLength(1);
		await until(one, 30 * MINUTE_MS, 10_000);
		// One that was a probe meanwhile rests for up to 4.5 h after its failed try; the others have gone.
		expect(email.sent.length).toBeGreaterThanOrEqual(2);
		expect(sms.sent.length).toBeGreaterThan(2);
	}, 60_000);

	it("sends an urgent message first though 300 others have been ready for longer, and while others hold every place to send", async () => {
		const person = await aPerson(store, { areaId });
		await messages(store, 300, { recipientId: person.id });
		clock.advance(1000);
		const urgent = await aMessage(store, { recipientId: person.id, urgent: true });
		let release: () => void = () => undefined;
		const stuck = new Promise<void>((resolve) => {
			release = resolve;
		});
		const sms = new TestNotifier("sms", async (message) => {
			if (!message.urgent) await stuck;
			return accepted();
		});
		const one = dispatcher([sms], { sendConcurrency: 2, batchSize: 50 });
		const sending = one.dispatchAll();
		const ended = async () =>
			(await store.query<{ state: string }>("SELECT state FROM message WHERE id = $1", [urgent.id]))[0]?.state === "sent";
		while (!(await ended())) await new Promise((resolve) => setImmediate(resolve));
		expect(sms.sent.filter(({ urgent }) => !urgent).length).toBeLessThanOrEqual(2);
		release();
		await sending;
		await one.settled();
		expect(sms.sent).toHaveLength(301);
	});

	it("with one send at once begins none, urgent or not, before the outcome of the one before it is on record", async () => {
		const person = await aPerson(store, { areaId });
		await messages(store, 6, { recipientId: person.id });
		for (let n = 0; n < 3; n++) await aMessage(store, { recipientId: person.id, urgent: true });
		const unrecorded: number[] = [];
		const sms = new TestNotifier("sms", async () => {
			const begun = sms.sent.length;
			const [kept] = await store.query<{ n: number }>("SELECT count(*) AS n FROM message WHERE state = 'sent'");
			unrecorded.push(begun - kept!.n);
			// A peer answers in another turn of the event loop.
			await new Promise((resolve) => setImmediate(resolve));
			return accepted();
		});
		const one = dispatcher([sms]);
		await one.dispatchAll();
		await one.settled();
		expect(sms.mostAtOnce).toBe(1);
		expect(unrecorded).toEqual(Array(9).fill(1));
	});
});
