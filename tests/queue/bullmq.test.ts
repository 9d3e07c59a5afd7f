import { pino } from "pino";
import { BullWakeQueue } from "../../src/queue/bullmq.js";
import { wakeQueueContract } from "../contract/wake-queue.contract.js";
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
} else {
	it.skip("the wake queue on BullMQ: left out, because no Redis answers at the test address", () => undefined);
}
