import { performance } from "node:perf_hooks";
import { Queue, Worker } from "bullmq";
import { Redis } from "ioredis";
import { migrations } from "../../migrations/index.js";
import { entities } from "../../src/entities.js";
import { Outward } from "../../src/messages/channels/outward.js";
import { WebhookNotifier } from "../../src/messages/channels/webhook.js";
import { Courier } from "../../src/messages/courier.js";
import { Dispatcher } from "../../src/messages/dispatcher.js";
import { hintsFor } from "../../src/messages/wake.js";
import { BullWakeQueue } from "../../src/queue/bullmq.js";
import { InProcessWakeQueue } from "../../src/queue/in-process.js";
import { Store } from "../../src/store/store.js";
import { SystemClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { SystemRandomness } from "../../src/time/randomness.js";
import { aMessage } from "../support/builders.js";
import { CountingPeer } from "../support/counting-peer.js";
import { newDatabase, servicesHere, TEST_KEYS } from "../support/stores.js";
import type { Figure } from "./figure.js";
import { pile } from "./pile.js";

const REMINDERS = Number(process.env["JARWATCH_TEST_BENCH_REMINDERS"] ?? 100_000);
const REDIS_URL = process.env["JARWATCH_TEST_REDIS_URL"] ?? "redis://127.0.0.1:6379";
const SENDS_AT_ONCE = 8;
const SECRET = `whsec_${Buffer.alloc(24, 7).toString("base64")}`;

const silent = { debug() {}, info() {}, warn() {}, error() {} } as never;

/** The queue engine alone: each job posts an empty body to the same peer. */
async function bareQueue(url: string, workers: number): Promise<number> {
	const name = `bench-reminders-${process.pid}-${workers}`;
	const connection = new Redis(REDIS_URL, { maxRetriesPerRequest: null });
	const queue = new Queue(name, { connection });
	for (let from = 0; from < REMINDERS; from += 1000)
		await queue.addBulk(
			Array.from({ length: Math.min(1000, REMINDERS - from) }, () => ({
				name: "post",
				data: {},
				opts: { removeOnComplete: true },
			})),
		);
	const outward = new Outward("allowed");
	let done = 0;
	const beganAt = performance.now();
	const running = Array.from(
		{ length: workers },
		() =>
			new Worker(name, async () => void (await (await outward.fetch(url, { method: "POST", body: "{}" })).text()), {
				connection: connection.duplicate(),
				concurrency: SENDS_AT_ONCE,
			}),
	);
	await new Promise<void>((resolve) => {
		for (const worker of running)
			worker.on("completed", () => {
				if (++done === REMINDERS) resolve();
			});
	});
	const rate = REMINDERS / ((performance.now() - beganAt) / 1000);
	for (const worker of running) await worker.close();
	await queue.obliterate({ force: true });
	await queue.close();
	await outward.close();
	connection.disconnect();
	return rate;
}

/** All reminders from the outbox through the webhook notifier, with an urgent one coming in every half second. */
async function sent(url: string, kind: "in-process" | "bullmq", workers: number) {
	const database = await newDatabase("postgres");
	const recipientId = await pile(database.location, REMINDERS, Date.now());
	const store = await Store.open({ location: database.location, entities, migrations, keys: TEST_KEYS });
	if (store.kind === "postgres") await store.writer.query("VACUUM ANALYZE");
	const clock = new SystemClock();
	const randomness = new SystemRandomness();
	const crew = Array.from({ length: workers }, (_, worker) => {
		const queue =
			kind === "bullmq"
				? new BullWakeQueue({ redisUrl: REDIS_URL, queueName: `bench-reminders-hints-${process.pid}-${workers}` }, silent)
				: new InProcessWakeQueue(silent);
		const webhook = new WebhookNotifier({ url, secret: SECRET }, clock, new Outward("allowed"));
		const dispatcher = new Dispatcher(
			{ store, clock, randomness, ids: new Ids(clock, randomness), notifiers: new Map([["webhook", webhook]]), log: silent },
			{ leaseMs: 60_000, sendTimeoutMs: 15_000, sendTries: 7, sendConcurrency: SENDS_AT_ONCE, circuitFailures: 5 },
		);
		const courier = new Courier(
			{ store, clock, queue, dispatcher, log: silent },
			{ dispatchMs: 1000, stopMs: 5000, queue: kind },
		);
		return { queue, courier, webhook, worker };
	});
	const first = crew[0]!;
	const beganAt = performance.now();
	let mostBytes = 0;
	for (const { courier, worker } of crew) await courier.start({ works: true, requeues: worker === 0 });
	const ids = (await store.query<{ id: string }>("SELECT id FROM message")).map(({ id }) => id);
	for (const { queue } of kind === "bullmq" ? [first] : crew) queue.wake(hintsFor(ids));
	for (;;) {
		const [left] = await store.query<{ n: number }>(
			"SELECT count(*) AS n FROM message WHERE next_try_at_ms IS NOT NULL AND NOT urgent",
		);
		mostBytes = Math.max(mostBytes, process.memoryUsage().rss);
		if (left?.n === 0) break;
		const atMs = clock.nowMs();
		const urgent = await aMessage(store, { recipientId, urgent: true, createdAtMs: atMs, readyAtMs: atMs, nextTryAtMs: atMs });
		first.queue.wake([urgent.id]);
		await new Promise((resolve) => setTimeout(resolve, 500));
	}
	const rate = REMINDERS / ((performance.now() - beganAt) / 1000);
	for (const { courier, queue, webhook } of crew) {
		await courier.stop();
		await queue.stop();
		await webhook.close();
	}
	const [wait] = await store.query<{ longestMs: number }>(
		"SELECT max(ended_at_ms - created_at_ms) AS longest_ms FROM message WHERE urgent AND state = 'sent'",
	);
	await store.close();
	await database.remove();
	return { rate, mostMb: mostBytes / 1e6, longestSeconds: Number(wait?.longestMs) / 1000 };
}

/** Reminders through a webhook to a peer on this machine, beside the queue engine alone with the same peer. */
export async function run(): Promise<Figure[]> {
	if (!servicesHere().postgres || !servicesHere().redis) return [];
	const peer = new CountingPeer();
	const url = await peer.start();
	const figures: Figure[] = [];
	try {
		for (const workers of [1, 4]) {
			const floor = await bareQueue(url, workers);
			for (const kind of ["in-process", "bullmq"] as const) {
				const { rate, mostMb, longestSeconds } = await sent(url, kind, workers);
				const name = `${REMINDERS.toLocaleString("en")} reminders by webhook, ${kind} queue, workers: ${workers}`;
				figures.push(
					{ name, value: rate, floor, unit: "/s", bar: "none: beside the queue engine posting to the same peer" },
					{ name: `${name}: longest wait of an urgent one`, value: longestSeconds, floor: 2, unit: "s", bar: "under 2 s" },
					{ name: `${name}: most memory`, value: mostMb, floor: 512, unit: "MB", bar: "none: beside 512 MB" },
				);
			}
		}
	} finally {
		await peer.stop();
	}
	return figures;
}
