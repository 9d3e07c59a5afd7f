import { spawn } from "node:child_process";
import { once } from "node:events";
import { join } from "node:path";
import { Redis } from "ioredis";
import { pino } from "pino";
import { Readiness } from "../../src/api/health/readiness.js";
import { BullWakeQueue } from "../../src/queue/bullmq.js";
import type { Store } from "../../src/store/store.js";
import { wakeQueueContract } from "../contract/wake-queue.contract.js";
import { freePort, OwnRedis } from "../support/own-redis.js";
import { servicesHere } from "../support/stores.js";

const redisUrl = process.env["JARWATCH_TEST_REDIS_URL"] ?? "redis://127.0.0.1:6379";
const log = pino({ level: "silent" });
let made = 0;

if (servicesHere().redis) {
	wakeQueueContract("BullMQ on Redis", () => new BullWakeQueue({ redisUrl, queueName: `test-${process.pid}-${made++}` }, log));

	it("says that it can't be reached, and throws nothing, where no Redis answers", async () => {
		const queue = new BullWakeQueue({ redisUrl: "redis://127.0.0.1:1", queueName: "nowhere" }, log);
		expect(() => queue.wake(["hint"])).not.toThrow();
		expect(await queue.healthy()).toBe(false);
		await queue.stop();
	});

	// BullMQ, "Graceful shutdown": close() takes no new jobs and waits for those at work; what waits is left to other workers.
	it("leaves what waits to another worker when it stops: of 20 hints each is followed once, by one of two", async () => {
		const options = { redisUrl, queueName: `test-${process.pid}-${made++}`, concurrency: 1 };
		const [one, other] = [new BullWakeQueue(options, log), new BullWakeQueue(options, log)];
		const seen: [string[], string[]] = [[], []];
		await one.start(async (id) => void seen[0].push(id));
		const ids = Array.from({ length: 20 }, (_, i) => `01hint${i}`);
		one.wake(ids);
		const end = performance.now() + 20_000;
		while (seen[0].length === 0 && performance.now() < end) await new Promise((resolve) => setImmediate(resolve));
		await one.stop();
		const before = seen[0].length;
		await other.start(async (id) => void seen[1].push(id));
		while (seen[1].length + before < 20 && performance.now() < end) await new Promise((resolve) => setImmediate(resolve));
		expect(seen[0]).toHaveLength(before);
		expect(seen.flat().sort()).toEqual([...ids].sort());
		await other.stop();
	});

	// BullMQ, "Stalled jobs": a job whose worker doesn't renew its lock is given to another, and fails after more than maxStalledCount.
	it("gives the hint that a killed worker had at work to another, also when that one is killed too", async () => {
		const queueName = `test-${process.pid}-${made++}`;
		const killed = async () => {
			const child = spawn(process.execPath, [join(__dirname, "stuck-worker.cjs"), redisUrl, queueName], {
				stdio: ["ignore", "pipe", "inherit"],
			});
			const [text] = (await once(child.stdout, "data")) as [Buffer];
			child.kill("SIGKILL");
			await once(child, "exit");
			return String(text).trim();
		};
		const queue = new BullWakeQueue({ redisUrl, queueName }, log);
		queue.wake(["01hint"]);
		expect([await killed(), await killed()]).toEqual(["01hint", "01hint"]);
		const seen: string[] = [];
		await queue.start(async (id) => void seen.push(id));
		const end = performance.now() + 60_000;
		while (seen.length === 0 && performance.now() < end) await new Promise((resolve) => setTimeout(resolve, 100));
		expect(seen).toEqual(["01hint"]);
		await queue.stop();
	}, 150_000);

	it("warns once of a Redis that evicts, says what to set, and says nothing of one that doesn't: allkeys-lru, noeviction", async () => {
		const redis = new OwnRedis(await freePort(), ["--maxmemory-policy", "allkeys-lru", "--save", ""]);
		await redis.start();
		const lines: Record<string, unknown>[] = [];
		const kept = pino({ level: "warn", base: null }, { write: (line: string) => void lines.push(JSON.parse(line)) });
		const queue = new BullWakeQueue({ redisUrl: redis.url, queueName: "evicting" }, kept);
		try {
			const end = performance.now() + 10_000;
			while (queue.concern() === undefined && performance.now() < end) expect(await queue.healthy()).toBe(true);
			expect(queue.concern()).toMatch(/allkeys-lru.*set maxmemory-policy noeviction/);
			const store = { query: async () => [], writer: { migrations: [] } } as unknown as Store;
			const parts = await new Readiness(store, queue, undefined, 1000).parts();
			expect(parts.find(({ name }) => name === "queue")).toEqual({ name: "queue", ready: true, concern: queue.concern() });
			// The same server again after an outage is no news.
			await redis.kill();
			await redis.start();
			while (!(await queue.healthy()) && performance.now() < end);
			expect(lines.filter(({ maxmemoryPolicy }) => maxmemoryPolicy === "allkeys-lru")).toHaveLength(1);

			const client = new Redis(redis.url);
			await client.config("SET", "maxmemory-policy", "noeviction");
			client.disconnect();
			const other = new BullWakeQueue({ redisUrl: redis.url, queueName: "keeping" }, kept);
			const told = lines.length;
			expect(await other.healthy()).toBe(true);
			expect(await other.healthy()).toBe(true);
			expect([other.concern(), lines.length]).toEqual([undefined, told]);
			await other.stop();
		} finally {
			await queue.stop();
			await redis.remove();
		}
	});
} else {
	it.skip("the wake queue on BullMQ: left out, because no Redis answers at the test address", () => undefined);
}
