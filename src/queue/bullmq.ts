import { Queue, Worker } from "bullmq";
import { Redis } from "ioredis";
import type { Log } from "../log/log.js";
import { WakeQueue } from "./wake-queue.js";

export interface BullOptions {
	/** `redis://` or `rediss://`. */
	readonly redisUrl: string;
	readonly queueName: string;
	/** Hints at work at once in this process. */
	readonly concurrency?: number;
	/** How long a command may take before Redis counts as away; left out: 2 s. */
	readonly commandTimeoutMs?: number;
}

/** The outbox is looked through without it. */
const COMMAND_TIMEOUT_MS = 2_000;
/** A worker's line says something that often, where all is well: whoever waits for a hint asks again. */
const ASKS_AGAIN_S = 2;
/** A line that is quiet for so long is tried by the operating system. */
const QUIET_MS = 10_000;
/** Reconnecting goes on for ever, ever slower, up to this. */
const LONGEST_RECONNECT_MS = 5_000;

/**
 * Hints through BullMQ on Redis, for several processes. A hint carries a message's id and nothing else.
 * Hints may be lost, with Redis or without an error; the outbox in the database is looked through anyway.
 */
export class BullWakeQueue extends WakeQueue {
	private readonly connection: Redis;
	private readonly queue: Queue;
	private worker: Worker | undefined;
	private workerConnection: Redis | undefined;
	private toldOfTrouble = false;
	private evictionPolicy: string | undefined;
	private readonly adding = new Set<Promise<unknown>>();
	private readonly commandTimeoutMs: number;

	constructor(
		private readonly options: BullOptions,
		private readonly log: Log,
	) {
		super();
		this.commandTimeoutMs = options.commandTimeoutMs ?? COMMAND_TIMEOUT_MS;
		// Adding a hint fails soon while Redis is away, instead of waiting in memory for it.
		this.connection = this.connect({
			enableOfflineQueue: true,
			maxRetriesPerRequest: 1,
			commandTimeout: this.commandTimeoutMs,
			// A line on which a command stays without an answer is made anew; the next one would wait on it as well.
			socketTimeout: this.commandTimeoutMs * 2,
		});
		this.queue = new Queue(options.queueName, { connection: this.connection, skipVersionCheck: true });
		this.queue.on("error", (error) => this.tellOnce(error));
		// Also after each outage: it may be another server, or the same one started with other settings.
		this.connection.on("ready", () => void this.lookAtEviction());
	}

	wake(messageIds: readonly string[]): void {
		if (messageIds.length === 0) return;
		// An id that is still in the queue is a hint that waits already: adding it again changes nothing.
		const jobs = messageIds.map((id) => ({
			name: "dispatch",
			data: {},
			opts: { jobId: `m-${id}`, removeOnComplete: true, removeOnFail: true },
		}));
		const added = this.queue.addBulk(jobs).then(
			() => {
				this.toldOfTrouble = false;
			},
			(error: unknown) => this.tellOnce(error),
		);
		this.adding.add(added);
		void added.finally(() => this.adding.delete(added));
	}

	async start(handler: (messageId: string) => Promise<void>): Promise<void> {
		// It waits for hints by a command that is answered late on purpose: only longer silence means that the line is dead.
		this.workerConnection = this.connect({
			maxRetriesPerRequest: null,
			socketTimeout: ASKS_AGAIN_S * 1000 + this.commandTimeoutMs * 3,
		});
		this.worker = new Worker(this.options.queueName, async (job) => handler((job.id ?? "").replace(/^m-/, "")), {
			connection: this.workerConnection,
			concurrency: this.options.concurrency ?? 2,
			drainDelay: ASKS_AGAIN_S,
			// A killed worker's hint is given to another within seconds, and however often that happens.
			lockDuration: 15_000,
			stalledInterval: 5_000,
			maxStalledCount: 1_000_000,
			skipVersionCheck: true,
		});
		this.worker.on("error", (error) => this.tellOnce(error));
		this.worker.on("failed", (_, error) =>
			this.log.warn({ err: error }, "a hint could not be followed; the outbox will be looked through"),
		);
	}

	async stop(): Promise<void> {
		await settledWithin(this.commandTimeoutMs, Promise.allSettled([...this.adding]));
		await settledWithin(this.commandTimeoutMs * 2, this.worker?.close());
		await settledWithin(this.commandTimeoutMs, this.queue.close());
		this.workerConnection?.disconnect();
		this.connection.disconnect();
	}

	async healthy(): Promise<boolean> {
		let answer = "";
		const asked = this.connection.ping().then((text) => {
			answer = text;
		});
		await settledWithin(this.commandTimeoutMs, asked);
		return answer === "PONG";
	}

	override concern(): string | undefined {
		return this.evictionPolicy === undefined || this.evictionPolicy === "noeviction"
			? undefined
			: `Redis throws keys away when its memory is full (maxmemory-policy ${this.evictionPolicy}): set maxmemory-policy noeviction, or hints get lost and messages wait for the slower look through the outbox`;
	}

	/**
	 * BullMQ needs a Redis that never evicts: a part of a queue that is thrown away leaves the rest broken.
	 * Source: BullMQ, Going to production, "Max memory policy".
	 */
	private async lookAtEviction(): Promise<void> {
		try {
			const policy = /^maxmemory_policy:(\S+)/m.exec(await this.connection.info("memory"))?.[1];
			if (policy === this.evictionPolicy) return;
			this.evictionPolicy = policy;
			const concern = this.concern();
			if (concern) this.log.warn({ maxmemoryPolicy: policy }, concern);
		} catch {
			// A server that doesn't tell (some hosted ones don't) is taken as it is; one that is away is told of elsewhere.
		}
	}

	private connect(options: object): Redis {
		const redis = new Redis(this.options.redisUrl, {
			...options,
			connectTimeout: this.commandTimeoutMs * 2,
			keepAlive: QUIET_MS,
			retryStrategy: (times: number) => Math.min(LONGEST_RECONNECT_MS, 50 * 2 ** Math.min(times, 8)),
		});
		redis.on("error", (error) => this.tellOnce(error));
		return redis;
	}

	/** Said once an outage: while it lasts everything goes on by the outbox alone. */
	private tellOnce(error: unknown): void {
		if (this.toldOfTrouble) return;
		this.toldOfTrouble = true;
		this.log.warn({ err: error }, "the queue can't be reached; messages are found in the outbox without it");
	}
}

/** Closing must not hang on a Redis that is away. */
async function settledWithin(withinMs: number, closing: Promise<unknown> | undefined): Promise<void> {
	if (!closing) return;
	let timer: NodeJS.Timeout | undefined;
	const timeIsUp = new Promise<void>((resolve) => {
		timer = setTimeout(resolve, withinMs);
	});
	await Promise.race([closing.then(noop, noop), timeIsUp]);
	clearTimeout(timer);
}

const noop = () => undefined;
