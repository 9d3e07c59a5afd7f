import { spawn } from "node:child_process";
import { join } from "node:path";
import { text } from "node:stream/consumers";
import { pino } from "pino";
import { Outward } from "../../src/messages/channels/outward.js";
import { WebhookNotifier } from "../../src/messages/channels/webhook.js";
import { Dispatcher } from "../../src/messages/dispatcher.js";
import type { Delivery, Outgoing } from "../../src/messages/notifier.js";
import { Pace } from "../../src/messages/pace.js";
import { SendSlots } from "../../src/messages/send-slots.js";
import { settingsFrom } from "../../src/settings/settings.js";
import { SystemClock, VirtualClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { SeededRandomness } from "../../src/time/randomness.js";
import { anArea, aPerson, clear, messages } from "../support/builders.js";
import { CountingPeer } from "../support/counting-peer.js";
import { newStore, onEachDatabase, readyDatabase, servicesHere } from "../support/stores.js";

const SECRET = `whsec_${Buffer.alloc(24, 7).toString("base64")}`;

/** Tells when each of its requests began. */
class WatchedWebhook extends WebhookNotifier {
	readonly beganAtMs: number[] = [];

	override send(message: Outgoing, signal: AbortSignal): Promise<Delivery> {
		this.beganAtMs.push(Date.now());
		return super.send(message, signal);
	}
}

/** @returns the most instants within one second, wherever it begins */
function mostWithinASecond(atMs: readonly number[]): number {
	const inOrder = [...atMs].sort((a, b) => a - b);
	return Math.max(...inOrder.map((from, i) => inOrder.slice(i).filter((each) => each < from + 1000).length));
}

if (servicesHere().postgres)
	it("of 20 a second holds for three processes on PostgreSQL together, and each gets its 25 turns", async () => {
		const database = await readyDatabase("postgres");
		const process25 = async () => {
			const child = spawn(process.execPath, [join(__dirname, "paced-process.cjs"), database.location, "20", "25"], {
				stdio: ["ignore", "pipe", "inherit"],
			});
			return JSON.parse(await text(child.stdout)) as number[];
		};
		const cameAtMs = (await Promise.all([process25(), process25(), process25()])).flat();
		expect(cameAtMs).toHaveLength(75);
		expect(mostWithinASecond(cameAtMs)).toBeLessThanOrEqual(20);
		await database.remove();
	}, 90_000);

it("is read from JARWATCH_SEND_RATES, by channel", () => {
	const rates = (text: string) => settingsFrom({ JARWATCH_SEND_RATES: text }).sendRates;
	expect(rates("sms-gateway=10, email=0.5")).toEqual({ "sms-gateway": 10, email: 0.5 });
	for (const wrong of ["sms", "sms=0", "sms=-1", "sms=10,sms=20", "sms=10001"])
		expect(() => rates(wrong)).toThrow(/JARWATCH_SEND_RATES: is a list such as/);
});

onEachDatabase("the pace of a channel", (kind) => {
	let store: Awaited<ReturnType<typeof newStore>>;

	beforeAll(async () => {
		store = await newStore(kind);
	});
	afterAll(() => store.remove());
	beforeEach(async () => {
		await clear(store);
		await store.work.run((tx) => tx.query("DELETE FROM channel_pace"));
	});

	const paceOf = (rates: Record<string, number>) => new Pace(rates, new SendSlots(store));

	it("of 50 a second lets 26 through in no less than 0.48 s, and an urgent one before 24 that wait", async () => {
		const pace = paceOf({ sms: 50 });
		const order: string[] = [];
		const beganMs = performance.now();
		const bulk = Array.from({ length: 25 }, (_, i) => pace.turn("sms", false).then(() => order.push(`bulk ${i}`)));
		const urgent = pace.turn("sms", true).then(() => order.push("urgent"));
		await Promise.all([...bulk, urgent]);
		expect(performance.now() - beganMs).toBeGreaterThanOrEqual(460);
		expect(order).toHaveLength(26);
		expect(order[0]).toBe("urgent");
	});

	it("lets everything through at once where a channel has no limit, and asks the database nothing", async () => {
		const pace = paceOf({ sms: 1 });
		await Promise.all(Array.from({ length: 100 }, () => pace.turn("email", false)));
		expect(await store.query("SELECT * FROM channel_pace")).toEqual([]);
	});

	it("of 0.5 a second lets the second one through no less than 2 s after the first", async () => {
		const pace = paceOf({ sms: 0.5 });
		await pace.turn("sms", false);
		const firstMs = Date.now();
		await pace.turn("sms", false);
		expect(Date.now() - firstMs).toBeGreaterThanOrEqual(2000);
	});

	it("gives each slot once, 10 ms apart, to whoever of four asks, and none of the quiet hour before", async () => {
		// One process alone sends through a file of SQLite.
		const other = kind === "postgres" ? await store.again() : store;
		const of = [store, other].flatMap((each) => [new SendSlots(each), new SendSlots(each)]);
		const takes = await Promise.all(Array.from({ length: 40 }, (_, i) => of[i % 4]?.take("sms", 1 + (i % 3), 10, 1_000_000)));
		const begins = takes.flatMap((firstMs, i) => Array.from({ length: 1 + (i % 3) }, (_, j) => Number(firstMs) + j * 10));
		expect(begins.sort((a, b) => a - b)).toEqual(Array.from(begins, (_, i) => 1_000_000 + i * 10));
		expect(await of[0]?.take("sms", 1, 10, 5_000_000)).toBe(5_000_000);
		expect(await of[1]?.take("sms", 1, 10, 5_000_000)).toBe(5_000_010);
		expect(await of[2]?.take("email", 1, 10, 5_000_000)).toBe(5_000_000);
		if (other !== store) await other.close();
	});

	it("doesn't wait for what a clock an hour ahead has taken, but waits a minute and no longer for what others have", async () => {
		const slots = new SendSlots(store);
		await slots.take("sms", 1, 10, 3_600_000);
		expect(await slots.take("sms", 1, 10, 0)).toBe(0);
		await slots.take("email", 1, 10, 60_000 - 10);
		expect(await slots.take("email", 1, 10, 0)).toBe(60_000);
	});

	it("throws at whoever waits for a turn while the database is away, and goes on afterwards", async () => {
		let isAway = true;
		const slots = new SendSlots(store);
		const take: SendSlots["take"] = async (...of) => {
			if (isAway) throw new Error("away");
			return slots.take(...of);
		};
		const pace = new Pace({ sms: 100 }, { take });
		const turns = await Promise.allSettled([pace.turn("sms", false), pace.turn("sms", true)]);
		expect(turns.map(({ status }) => status)).toEqual(["rejected", "rejected"]);
		isAway = false;
		await pace.turn("sms", false);
	});

	it("gives up a slot that is late by more than 50 ms, for two of them could else go within a second that has one", async () => {
		const clock = new VirtualClock(0);
		const asked: number[] = [];
		const take = async (_: string, count: number, _stepMs: number, notBeforeMs: number) => {
			asked.push(count);
			clock.moveTo(notBeforeMs + (asked.length === 1 ? 51 : 50));
			return notBeforeMs;
		};
		const pace = new Pace({ sms: 1 }, { take }, clock);
		await pace.turn("sms", false);
		expect(asked).toEqual([1, 1]);
	});

	it("of 20 a second holds for two dispatchers together: no second has more than 20 of 60, each goes once, and both send", async () => {
		const peer = new CountingPeer(20);
		const url = await peer.start();
		const stores = [store, kind === "postgres" ? await store.again() : store];
		const clock = new SystemClock();
		const person = await aPerson(store, { areaId: (await anArea(store)).id });
		await messages(store, 60, { recipientId: person.id, createdAtMs: clock.nowMs() });
		const webhooks = stores.map(() => new WatchedWebhook({ url, secret: SECRET }, clock, new Outward("allowed")));
		const dispatchers = stores.map((each, i) => {
			const randomness = new SeededRandomness(i);
			const ids = new Ids(clock, randomness);
			return new Dispatcher(
				{ store: each, clock, randomness, ids, notifiers: new Map([["webhook", webhooks[i]!]]), log: pino({ level: "silent" }) },
				{ leaseMs: 60_000, sendTimeoutMs: 5_000, sendTries: 7, sendConcurrency: 8, batchSize: 10, sendRates: { webhook: 20 } },
			);
		});
		try {
			const beganMs = Date.now();
			while (peer.keys.length < 60 && Date.now() < beganMs + 60_000)
				await Promise.all(dispatchers.map((each) => each.dispatchAll()));
			await Promise.all(dispatchers.map((each) => each.settled()));
			expect([...peer.counts().values()]).toEqual(Array(60).fill(1));
			const began = webhooks.map(({ beganAtMs }) => beganAtMs);
			expect(Math.min(...began.map(({ length }) => length))).toBeGreaterThan(0);
			expect(mostWithinASecond(began.flat())).toBeLessThanOrEqual(20);
		} finally {
			await Promise.all(webhooks.map((each) => each.close()));
			if (stores[1] !== store) await stores[1]?.close();
			await peer.stop();
		}
	}, 90_000);
});
