import { performance } from "node:perf_hooks";
import { Queue, Worker } from "bullmq";
import { Redis } from "ioredis";
import { migrations } from "../../migrations/index.js";
import { entities } from "../../src/entities.js";
import { Courier } from "../../src/messages/courier.js";
import { Dispatcher } from "../../src/messages/dispatcher.js";
import { type Delivery, Notifier } from "../../src/messages/notifier.js";
import { hintsFor } from "../../src/messages/wake.js";
import { BullWakeQueue } from "../../src/queue/bullmq.js";
import { Store } from "../../src/store/store.js";
import { SystemClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { SystemRandomness } from "../../src/time/randomness.js";
import { type DatabaseKind, databasesHere, newDatabase, servicesHere, TEST_KEYS } from "../support/stores.js";
import { type Figure, median } from "./figure.js";
import { pile } from "./pile.js";
import { leastLoop, plainLoop } from "./plain-loop.js";

const MESSAGES = Number(process.env["JARWATCH_TEST_BENCH_MESSAGES"] ?? 20_000);
const BATCH = 100;
const LEASE_MS = 60_000;
const WARM_UP = 2;
const ROUNDS = 5;

class NoOpNotifier extends Notifier {
	readonly name = "none";
	async send(): Promise<Delivery> {
		return { kind: "accepted", answer: "taken" };
	}
}

const silent = { debug() {}, info() {}, warn() {}, error() {} } as never;

const reset =
	"UPDATE message SET state = 'waiting', next_try_at_ms = created_at_ms, channel = NULL, answer = NULL, ended_at_ms = NULL, claim = 0";

async function dispatched(store: Store): Promise<number> {
	const clock = new SystemClock();
	const randomness = new SystemRandomness();
	const notifiers = new Map([["none", new NoOpNotifier()]]);
	const dispatcher = new Dispatcher(
		{ store, clock, randomness, ids: new Ids(clock, randomness), notifiers, log: silent },
		{ leaseMs: LEASE_MS, sendTimeoutMs: 15_000, sendTries: 7, sendConcurrency: 8, batchSize: BATCH },
	);
	const beganAt = performance.now();
	await dispatcher.dispatchAll();
	await dispatcher.settled();
	const seconds = (performance.now() - beganAt) / 1000;
	const [sent] = await store.query<{ n: number }>("SELECT count(*) AS n FROM message WHERE state = 'sent'");
	return Number(sent?.n) / seconds;
}

async function onDatabase(kind: DatabaseKind): Promise<Figure[]> {
	const database = await newDatabase(kind);
	await pile(database.location, MESSAGES, Date.now());
	const store = await Store.open({ location: database.location, entities, migrations, keys: TEST_KEYS });
	if (store.kind === "postgres") await store.writer.query("VACUUM ANALYZE");
	try {
		const [ours, plain, least] = [[], [], []] as [number[], number[], number[]];
		// One after the other and again, so that all see the same database in the same state; the first rounds warm up.
		for (let round = 0; round < WARM_UP + ROUNDS; round++) {
			for (const [rates, run] of [
				[plain, () => plainLoop(kind, database.location)],
				[least, () => leastLoop(kind, database.location)],
				[ours, () => dispatched(store)],
			] as const) {
				await store.work.run((tx) => tx.query(reset));
				await store.writer.query(kind === "postgres" ? "VACUUM ANALYZE message" : "PRAGMA wal_checkpoint(TRUNCATE)");
				rates.push(await run());
			}
		}
		const value = median(ours.slice(WARM_UP));
		const name = `dispatch through a notifier that does nothing, on ${kind}`;
		const unit = "/s";
		return [
			{ name, value, floor: median(plain.slice(WARM_UP)), unit, bar: "at least 0.5x the plain claim loop" },
			{ name, value, floor: median(least.slice(WARM_UP)), unit, bar: "none: beside ids alone, one outcome for all of a claim" },
		];
	} finally {
		await store.close();
		await database.remove();
	}
}

/** BullMQ moving jobs that hold nothing and do nothing: what the queue engine itself can do. */
async function emptyJobs(redisUrl: string, name: string): Promise<number> {
	const connection = new Redis(redisUrl, { maxRetriesPerRequest: null });
	const queue = new Queue(name, { connection });
	for (let from = 0; from < MESSAGES; from += 1000)
		await queue.addBulk(
			Array.from({ length: 1000 }, (_, i) => ({
				name: "empty",
				data: {},
				opts: { jobId: `e-${from + i}`, removeOnComplete: true },
			})),
		);
	let done = 0;
	const beganAt = performance.now();
	const worker = new Worker(name, async () => undefined, { connection: connection.duplicate(), concurrency: 50 });
	await new Promise<void>((resolve) => {
		worker.on("completed", () => {
			if (++done === MESSAGES) resolve();
		});
	});
	const rate = MESSAGES / ((performance.now() - beganAt) / 1000);
	await worker.close();
	await queue.obliterate({ force: true });
	await queue.close();
	connection.disconnect();
	return rate;
}

/** The same number of messages from the outbox on PostgreSQL, dispatched by whoever follows the queue's hints. */
async function byHints(store: Store, redisUrl: string, name: string): Promise<number> {
	const clock = new SystemClock();
	const randomness = new SystemRandomness();
	const queue = new BullWakeQueue({ redisUrl, queueName: name }, silent);
	const dispatcher = new Dispatcher(
		{
			store,
			clock,
			randomness,
			ids: new Ids(clock, randomness),
			notifiers: new Map([["none", new NoOpNotifier()]]),
			log: silent,
		},
		{ leaseMs: LEASE_MS, sendTimeoutMs: 15_000, sendTries: 7, sendConcurrency: 8, batchSize: BATCH },
	);
	const courier = new Courier(
		{ store, clock, queue, dispatcher, log: silent },
		{ dispatchMs: 1000, stopMs: 5000, queue: "bullmq" },
	);
	const ids = (await store.query<{ id: string }>("SELECT id FROM message")).map(({ id }) => id);
	const beganAt = performance.now();
	await courier.start({ works: true, requeues: false });
	queue.wake(hintsFor(ids));
	for (;;) {
		const [left] = await store.query<{ n: number }>("SELECT count(*) AS n FROM message WHERE next_try_at_ms IS NOT NULL");
		if (left?.n === 0) break;
		await new Promise((resolve) => setTimeout(resolve, 10));
	}
	const rate = MESSAGES / ((performance.now() - beganAt) / 1000);
	await courier.stop();
	await queue.stop();
	return rate;
}

async function onBullMq(): Promise<Figure> {
	const redisUrl = process.env["JARWATCH_TEST_REDIS_URL"] ?? "redis://127.0.0.1:6379";
	const database = await newDatabase("postgres");
	await pile(database.location, MESSAGES, Date.now());
	const store = await Store.open({ location: database.location, entities, migrations, keys: TEST_KEYS });
	if (store.kind === "postgres") await store.writer.query("VACUUM ANALYZE");
	try {
		const ours: number[] = [];
		const bare: number[] = [];
		for (let round = 0; round < 4; round++) {
			await store.work.run((tx) => tx.query(reset));
			await store.writer.query("VACUUM ANALYZE message");
			bare.push(await emptyJobs(redisUrl, `bench-empty-${process.pid}-${round}`));
			ours.push(await byHints(store, redisUrl, `bench-hints-${process.pid}-${round}`));
		}
		return {
			name: "dispatch by hints of BullMQ, on postgres",
			value: median(ours.slice(1)),
			floor: median(bare.slice(1)),
			unit: "/s",
			bar: "at least 0.5x BullMQ moving empty jobs",
		};
	} finally {
		await store.close();
		await database.remove();
	}
}

export async function run(): Promise<Figure[]> {
	const figures: Figure[] = [];
	for (const kind of databasesHere()) figures.push(...(await onDatabase(kind)));
	if (servicesHere().postgres && servicesHere().redis) figures.push(await onBullMq());
	return figures;
}
