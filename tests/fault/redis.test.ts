import { Redis } from "ioredis";
import { pino } from "pino";
import { Sweep } from "../../src/duties/sweep.js";
import { Courier } from "../../src/messages/courier.js";
import { Dispatcher } from "../../src/messages/dispatcher.js";
import { type Delivery, Notifier, type Outgoing } from "../../src/messages/notifier.js";
import { wakeAfterCommit } from "../../src/messages/wake.js";
import { BullWakeQueue } from "../../src/queue/bullmq.js";
import { SystemClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { makeDue, putJars } from "../support/due-jars.js";
import { freePort, OwnRedis } from "../support/own-redis.js";
import { servicesHere } from "../support/stores.js";
import { newWorld } from "../support/world.js";

class Keeping extends Notifier {
	readonly name = "keeping";
	readonly keys: string[] = [];

	async send(message: Outgoing): Promise<Delivery> {
		this.keys.push(message.idempotencyKey);
		return { kind: "accepted", answer: "kept" };
	}
}

const title =
	"Redis that is emptied, killed and started again in mid-run loses no reminder and doubles none: 600 reminders on PostgreSQL";

if (servicesHere().redis && servicesHere().postgres)
	it(title, async () => {
		const redis = new OwnRedis(await freePort());
		await redis.start();
		const world = await newWorld("postgres");
		const log = pino({ level: "silent" });
		const clock = new SystemClock();
		const ids = new Ids(clock, world.randomness);
		const queue = new BullWakeQueue({ redisUrl: redis.url, queueName: "jarwatch" }, log);
		const notifier = new Keeping();
		const dispatcher = new Dispatcher(
			{ store: world.store, clock, randomness: world.randomness, ids, notifiers: new Map([["keeping", notifier]]), log },
			{ leaseMs: 5_000, sendTimeoutMs: 1_000, sendTries: 7, sendConcurrency: 8 },
		);
		const courier = new Courier(
			{ store: world.store, clock, queue, dispatcher, log },
			{ dispatchMs: 100, stopMs: 5_000, queue: "bullmq" },
		);
		try {
			await putJars(world.store, 600, () => null);
			const sweep = new Sweep(world.store, clock, world.randomness, ids, world.kinds, wakeAfterCommit(queue));
			await courier.start({ works: true, requeues: true });
			const sentWithin = async (count: number, withinMs: number) => {
				const end = performance.now() + withinMs;
				while (notifier.keys.length < count && performance.now() < end) await new Promise((resolve) => setTimeout(resolve, 20));
				expect(notifier.keys.length).toBe(count);
			};
			for (const [round, trouble] of [
				async () => undefined,
				() => redis.empty(),
				() => redis.kill(),
				async () => undefined,
				() => redis.start(),
				() => redis.empty(),
			].entries()) {
				await makeDue(world.store, round * 100, (round + 1) * 100, Date.now());
				await sweep.openDue();
				await trouble();
				// With Redis away, what is ready is found by looking: within the rarer interval.
				await sentWithin((round + 1) * 100, 15_000);
			}
			// An orderly stop has recorded every answer that came.
			await courier.stop();
			expect(new Set(notifier.keys).size).toBe(600);
			expect(await world.store.query("SELECT state, count(*) AS n FROM message GROUP BY state")).toEqual([
				{ state: "sent", n: 600 },
			]);
			// A hint carries an id and nothing else: no number, no name, no text.
			const reader = new Redis(redis.url);
			const found = JSON.stringify(await Promise.all((await reader.keys("*")).map(async (key) => [key, await reader.type(key)])));
			reader.disconnect();
			expect(found).not.toMatch(/\+?447700|Invented/);
		} finally {
			await courier.stop();
			await queue.stop();
			await world.remove();
			await redis.remove();
		}
	}, 120_000);
else it.skip(`${title}: left out, because Redis or PostgreSQL doesn't answer`, () => undefined);
