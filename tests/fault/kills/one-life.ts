// One process of the program, from its start to its kill: it opens what is due, climbs ladders, takes what people tell, sends and seals. It
// has no interface, so that it is up within a moment; its clock stands until it is told the time. It reads and writes a line of JSON for
// each thing told.
import "reflect-metadata";
import { createInterface } from "node:readline";
import { migrations } from "../../../migrations/index.js";
import { Answers } from "../../../src/duties/answers.js";
import { Escalation } from "../../../src/duties/escalation.js";
import { DutyKinds } from "../../../src/duties/kinds.js";
import { dutyKinds } from "../../../src/duties/list.js";
import { Replies } from "../../../src/duties/replies.js";
import { Sweep } from "../../../src/duties/sweep.js";
import { entities } from "../../../src/entities.js";
import { InputError } from "../../../src/errors/errors.js";
import { Sealer } from "../../../src/ledger/sealer.js";
import { newLog } from "../../../src/log/log.js";
import { Outward } from "../../../src/messages/channels/outward.js";
import { WebhookNotifier } from "../../../src/messages/channels/webhook.js";
import { Dispatcher } from "../../../src/messages/dispatcher.js";
import { wakeAfterCommit } from "../../../src/messages/wake.js";
import { InProcessWakeQueue } from "../../../src/queue/in-process.js";
import { Batches } from "../../../src/stock/batches.js";
import { Calendars } from "../../../src/stock/places.js";
import { StockMoves } from "../../../src/stock/stock-moves.js";
import { Keyring } from "../../../src/store/sealing/keyring.js";
import { Store } from "../../../src/store/store.js";
import { VirtualClock } from "../../../src/time/clock.js";
import { Ids } from "../../../src/time/ids.js";
import { SystemRandomness } from "../../../src/time/randomness.js";
import { type Point, watchSends, watchWork } from "../points/points.js";
import type { Fact } from "./facts.js";
import type { LifeOptions, Said } from "./life.js";

/** How often it sweeps, and looks for messages that no hint has told of. */
const SWEEP_MS = 60;
const LOOK_MS = 150;

const say = (told: Said) => void process.stdout.write(`${JSON.stringify(told)}\n`);

/** @param loaded is told when everything is loaded and at work */
export async function main(loaded: () => void): Promise<void> {
	const { location, url, key, redisUrl, sendsAtOnce, leaseMs, dieAt } = JSON.parse(process.argv[2]!) as LifeOptions & {
		key: string;
	};
	const lines = createInterface({ input: process.stdin })[Symbol.asyncIterator]();
	const heard = async () => JSON.parse((await lines.next()).value as string) as { rest: true } | { now: number } | Fact;
	// What isn't used isn't loaded.
	const bull = redisUrl === undefined ? undefined : await import("../../../src/queue/bullmq.js");
	say({ loaded: true });

	const { now } = (await heard()) as { now: number };
	const clock = new VirtualClock(now);
	const randomness = new SystemRandomness();
	const ids = new Ids(clock, randomness);
	const log = newLog(process.env["JARWATCH_TEST_LOG"] ?? "silent");
	const store = await Store.open({ location, entities, migrations, keys: new Keyring([key]), connections: 4 });
	const queue = bull
		? new bull.BullWakeQueue({ redisUrl: redisUrl as string, queueName: "jarwatch" }, log)
		: new InProcessWakeQueue(log);
	const wake = wakeAfterCommit(queue);
	const calendars = new Calendars();
	const kinds = new DutyKinds(dutyKinds({ ids, calendars }));
	const answers = new Answers(store, clock, ids, kinds, wake);
	const replies = new Replies(store, clock, ids, answers, kinds, wake, log);
	const batches = new Batches(store, clock, ids, calendars);
	const moves = new StockMoves(store, clock, ids, calendars);
	const sweep = new Sweep(store, clock, randomness, ids, kinds, wake);
	const escalation = new Escalation(store, clock, ids, kinds, wake);
	const sealer = new Sealer(store, clock);
	const secret = `whsec_${Buffer.alloc(24, 7).toString("base64")}`;
	const webhook = new WebhookNotifier({ url, secret }, clock, new Outward("allowed"));
	const dispatcher = new Dispatcher(
		{ store, clock, randomness, ids, notifiers: new Map([["webhook", webhook]]), log },
		{ leaseMs, sendTimeoutMs: leaseMs - 1000, sendTries: 7, sendConcurrency: sendsAtOnce, batchSize: 20 },
	);
	if (dieAt !== undefined) {
		const pass = ({ moment, place }: Point) => {
			const point = `${moment}, ${place}`;
			if (dieAt === point) process.kill(process.pid, "SIGKILL");
			else if (dieAt === "") say({ passed: point });
		};
		watchWork(store.work, pass);
		watchSends(webhook, pass);
	}

	let isResting = false;
	const loops = () => [
		again(async () => {
			await escalation.climb();
			await sweep.openDue();
			await sealer.seal();
		}, SWEEP_MS),
		again(() => dispatcher.dispatchAll(), LOOK_MS),
	];
	let running: ReturnType<typeof loops> = [];

	/** A claim holds longer than a send takes: the time moves on only while nothing is on its way, in any process. */
	async function rest(): Promise<void> {
		isResting = true;
		await Promise.all(running.map((stop) => stop()));
		await dispatcher.settled();
		say({ rests: true });
	}

	function goOn(nowMs: number): void {
		clock.moveTo(nowMs);
		isResting = false;
		running = loops();
		say({ at: nowMs });
	}

	function taken(told: Fact): Promise<unknown> {
		if (told.kind === "reply") return replies.receive(told.fact);
		if (told.kind === "jar") return batches.register(told.fact);
		const { jarCode, volumeMl, note } = told.fact;
		return moves.record(jarCode, { kind: "used", volumeMl, atMs: clock.nowMs(), byCode: null, note });
	}

	/** Says what is kept, and what was refused, once that is certain. */
	async function take(told: Fact): Promise<void> {
		try {
			await taken(told);
			say({ kept: told.key });
		} catch (error) {
			if (!(error instanceof InputError)) throw error;
			say({ refused: told.key, code: error.code });
		}
	}

	await queue.start(async () => {
		if (!isResting) await dispatcher.dispatchAll();
	});
	say({ up: true });
	running = loops();
	loaded();
	for (;;) {
		const told = await heard();
		if ("rest" in told) await rest();
		else if ("now" in told) goOn(told.now);
		else await take(told);
	}
}

/** Does one thing again and again. @returns how it is stopped */
function again(once: () => Promise<unknown>, everyMs: number): () => Promise<void> {
	let goesOn = true;
	const ended = (async () => {
		for (; goesOn; await new Promise((resolve) => setTimeout(resolve, everyMs))) await once();
	})();
	return async () => {
		goesOn = false;
		await ended;
	};
}
