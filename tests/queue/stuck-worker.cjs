// A process that follows hints from Redis, says which, and never ends with one: it is there to be killed.
require("../support/from-source.cjs");
const { pino } = require("pino");
const { BullWakeQueue } = require("../../src/queue/bullmq.ts");

const [redisUrl, queueName] = process.argv.slice(2);
const queue = new BullWakeQueue({ redisUrl, queueName }, pino({ level: "silent" }));
void queue.start((id) => {
	process.stdout.write(`${id}\n`);
	return new Promise(() => undefined);
});
