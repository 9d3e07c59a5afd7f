import { pino } from "pino";
import { InProcessWakeQueue } from "../../src/queue/in-process.js";
import { wakeQueueContract } from "../contract/wake-queue.contract.js";

wakeQueueContract("in process", () => new InProcessWakeQueue(pino({ level: "silent" })));
