import { pino } from "pino";
import { Sweep } from "../../src/duties/sweep.js";
import { Dispatcher } from "../../src/messages/dispatcher.js";
import { type Delivery, Notifier, type Outgoing } from "../../src/messages/notifier.js";
import { putJars } from "../support/due-jars.js";
import { onEachDatabase } from "../support/stores.js";
import { newWorld, START_MS } from "../support/world.js";

class Keeping extends Notifier {
	readonly name = "keeping";
	readonly keys: string[] = [];

	async send(message: Outgoing): Promise<Delivery> {
		this.keys.push(message.idempotencyKey);
		return { kind: "accepted", answer: "kept" };
	}
}

onEachDatabase("several schedulers and workers at once", (kind) => {
	it("open 600 due tasks once and send 600 reminders once, with 4 sweeps and 4 dispatchers side by side", async () => {
		const world = await newWorld(kind);
		try {
			const { store, clock, randomness, ids, kinds } = world;
			await putJars(store, 600, () => START_MS);
			const sweeps = Array.from({ length: 4 }, () => new Sweep(store, clock, randomness, ids, kinds, () => undefined));
			const opened = await Promise.all(sweeps.map((sweep) => sweep.openDue()));
			expect(opened.reduce((sum, n) => sum + n, 0)).toBe(600);
			expect(await store.query("SELECT count(*) AS n, count(DISTINCT subject_id) AS jars FROM task")).toEqual([
				{ n: 600, jars: 600 },
			]);
			const notifier = new Keeping();
			const parts = {
				store,
				clock,
				randomness,
				ids,
				notifiers: new Map([["keeping", notifier]]),
				log: pino({ level: "silent" }),
			};
			const options = { leaseMs: 60_000, sendTimeoutMs: 10_000, sendTries: 7, sendConcurrency: 8 };
			const dispatchers = Array.from({ length: 4 }, () => new Dispatcher(parts, options));
			await Promise.all(
				dispatchers.map(async (dispatcher) => {
					while ((await dispatcher.dispatchReady()) > 0);
				}),
			);
			expect(notifier.keys).toHaveLength(600);
			expect(new Set(notifier.keys).size).toBe(600);
		} finally {
			await world.remove();
		}
	});
});
