import { pino } from "pino";
import { Sweep } from "../../../src/duties/sweep.js";
import { Courier } from "../../../src/messages/courier.js";
import { Dispatcher } from "../../../src/messages/dispatcher.js";
import { wakeAfterCommit } from "../../../src/messages/wake.js";
import { BullWakeQueue } from "../../../src/queue/bullmq.js";
import { SystemClock } from "../../../src/time/clock.js";
import { Ids } from "../../../src/time/ids.js";
import { makeDue, putJars } from "../../support/due-jars.js";
import { FAULTS, faultyLine } from "../../support/faulty-line.js";
import { accepted, TestNotifier } from "../../support/notifiers.js";
import { freePort, OwnRedis } from "../../support/own-redis.js";
import { servicesHere } from "../../support/stores.js";
import { newWorld } from "../../support/world.js";

const JARS = 20;
/** Generous: on a machine ten times slower too. */
const WITHIN_MS = 60_000;

const title = "over a line to Redis that fails";
const here = servicesHere().redis && servicesHere().postgres;
if (!here) it.skip(`${title}: left out, because Redis or PostgreSQL doesn't answer`, () => undefined);

(here ? describe : describe.skip)(title, () => {
	const log = pino({ level: "silent" });
	let redis: OwnRedis;
	let port: number;

	beforeAll(async () => {
		port = await freePort();
		redis = new OwnRedis(port);
		await redis.start();
	});
	afterAll(() => redis.remove());

	it.each(FAULTS)(
		`sends ${2 * JARS} reminders once each, by the outbox alone while it lasts, and follows hints again by itself: %s`,
		async (fault) => {
			await redis.empty();
			const line = await faultyLine(port, { delayMs: 30, bytesPerSecond: 60 });
			const world = await newWorld("postgres");
			const clock = new SystemClock();
			const ids = new Ids(clock, world.randomness);
			const options = { redisUrl: `redis://127.0.0.1:${line.port}`, queueName: "jarwatch", commandTimeoutMs: 400 };
			const queue = new BullWakeQueue(options, log);
			const notifier = new TestNotifier("keeping", accepted);
			const dispatcher = new Dispatcher(
				{ store: world.store, clock, randomness: world.randomness, ids, notifiers: new Map([["keeping", notifier]]), log },
				{ leaseMs: 60_000, sendTimeoutMs: 20_000, sendTries: 7, sendConcurrency: 8 },
			);
			const courier = new Courier(
				{ store: world.store, clock, queue, dispatcher, log },
				{ dispatchMs: 100, stopMs: 5_000, queue: "bullmq" },
			);
			const followed: string[] = [];
			const hints = new BullWakeQueue({ ...options, queueName: "hints" }, log);
			try {
				await putJars(world.store, 2 * JARS, () => null);
				const sweep = new Sweep(world.store, clock, world.randomness, ids, world.kinds, wakeAfterCommit(queue));
				await courier.start({ works: true, requeues: true });
				await hints.start(async (hint) => void followed.push(hint));
				hints.wake(["before"]);
				await soon(() => followed.includes("before"));

				await line.be(fault);
				const healthy = await queue.healthy();
				if (fault !== "delay" && fault !== "slow") expect(healthy).toBe(false);
				await makeDue(world.store, 0, JARS, Date.now());
				// Units of work don't wait for Redis.
				await sweep.openDue();
				await soon(() => notifier.sent.length >= JARS);

				await line.be("none");
				let asked = 0;
				await soon(() => {
					// A hint that was handed over while its answer was lost is only given to another when its lock has run out.
					hints.wake([`after ${asked++}`]);
					return followed.some((hint) => hint.startsWith("after"));
				});
				await soon(() => queue.healthy());
				await makeDue(world.store, JARS, 2 * JARS, Date.now());
				await sweep.openDue();
				await soon(() => notifier.sent.length >= 2 * JARS);
				await courier.stop();
				expect(notifier.sent).toHaveLength(2 * JARS);
				expect(new Set(notifier.sent.map(({ idempotencyKey }) => idempotencyKey)).size).toBe(2 * JARS);
				expect(await world.store.query("SELECT state, count(*) AS n FROM message GROUP BY state")).toEqual([
					{ state: "sent", n: 2 * JARS },
				]);
			} finally {
				await courier.stop();
				await queue.stop();
				await hints.stop();
				await world.remove();
				await line.close();
			}
		},
		WITHIN_MS * 4,
	);
});

async function soon(isSo: () => boolean | Promise<boolean>): Promise<void> {
	const untilMs = performance.now() + WITHIN_MS;
	while (!(await isSo())) {
		if (performance.now() > untilMs) throw new Error("it takes too long");
		await new Promise((resolve) => setTimeout(resolve, 50));
	}
}
