import { pino } from "pino";
import { Dispatcher, type DispatcherOptions } from "../../src/messages/dispatcher.js";
import { type Delivery, Notifier, type Outgoing } from "../../src/messages/notifier.js";
import { MINUTE_MS, VirtualClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { SeededRandomness } from "../../src/time/randomness.js";
import { aMessage, anArea, aPerson, clear, THURSDAY_NOON_MS } from "../support/builders.js";
import { accepted, named, refusedForGood, refusedForNow } from "../support/notifiers.js";
import { newStore, onEachDatabase } from "../support/stores.js";

/** Answers each message after a while, by chance or as it is told. */
class Slow extends Notifier {
	readonly name = "slow";
	/** Ids in the order in which sends began, and in which they were accepted. */
	readonly begun: string[] = [];
	readonly accepted: string[] = [];

	constructor(private readonly answer: (messageId: string) => { afterTurns: number; delivery: Delivery }) {
		super();
	}

	async send({ messageId }: Outgoing): Promise<Delivery> {
		this.begun.push(messageId);
		const { afterTurns, delivery } = this.answer(messageId);
		for (let turn = 0; turn < afterTurns; turn++) await new Promise((resolve) => setImmediate(resolve));
		if (delivery.kind === "accepted") this.accepted.push(messageId);
		return delivery;
	}
}

onEachDatabase("the order of messages for one person", (kind) => {
	let store: Awaited<ReturnType<typeof newStore>>;
	let clock: VirtualClock;
	let areaId: string;

	beforeAll(async () => {
		store = await newStore(kind);
	});
	afterAll(() => store.remove());
	beforeEach(async () => {
		await clear(store);
		clock = new VirtualClock(THURSDAY_NOON_MS);
		randomness = new SeededRandomness(1);
		areaId = (await anArea(store)).id;
	});

	// Of one test together, or the workers would give the same ids.
	let randomness: SeededRandomness;
	const dispatcher = (notifier: Notifier, options: Partial<DispatcherOptions> = {}) => {
		const log = pino({ level: "silent" });
		return new Dispatcher(
			{ store, clock, randomness, ids: new Ids(clock, randomness), notifiers: named(notifier), log },
			{ leaseMs: 60_000, sendTimeoutMs: 15_000, sendTries: 7, sendConcurrency: 8, ...options },
		);
	};
	/** So many for each person, a second apart, the first of each before the second of any. */
	const forEach = async (people: number, each: number, urgent = false) => {
		const ids = await Promise.all(Array.from({ length: people }, async () => (await aPerson(store, { areaId })).id));
		const byPerson = new Map<string, string[]>(ids.map((id) => [id, []]));
		for (let n = 0; n < each; n++)
			for (const recipientId of ids) {
				const readyAtMs = THURSDAY_NOON_MS + n * 1000;
				const { id } = await aMessage(store, { recipientId, urgent, readyAtMs, nextTryAtMs: readyAtMs });
				byPerson.get(recipientId)?.push(id);
			}
		clock.advance(each * 1000);
		return byPerson;
	};
	const all = async (one: Dispatcher) => {
		while ((await one.dispatchReady()) > 0);
	};

	it("is kept where a gateway takes 50 turns for the first, none for the others, and 8 may go at once", async () => {
		const byPerson = await forEach(2, 4);
		const firsts = new Set([...byPerson.values()].map(([first]) => first));
		const slow = new Slow((id) => ({ afterTurns: firsts.has(id) ? 50 : 0, delivery: accepted() }));
		await all(dispatcher(slow));
		for (const ids of byPerson.values()) expect(slow.accepted.filter((id) => ids.includes(id))).toEqual(ids);
	});

	it("is kept across retries: what follows a message that was refused for now waits for it, and nobody else's does", async () => {
		const byPerson = await forEach(2, 3);
		const [hers, others] = [...byPerson.values()] as [string[], string[]];
		let isUp = false;
		const slow = new Slow((id) => ({ afterTurns: 1, delivery: id === hers[0] && !isUp ? refusedForNow() : accepted() }));
		const one = dispatcher(slow);
		await all(one);
		expect(slow.accepted).toEqual(others);
		expect(slow.begun.filter((id) => hers.includes(id))).toEqual([hers[0]]);
		clock.advance(MINUTE_MS);
		isUp = true;
		await all(one);
		expect(slow.accepted).toEqual([...others, ...hers]);
	});

	it("goes on behind a message that was refused for good", async () => {
		const [ids] = [...(await forEach(1, 3)).values()] as [string[]];
		const slow = new Slow((id) => ({ afterTurns: 1, delivery: id === ids[0] ? refusedForGood() : accepted() }));
		await all(dispatcher(slow));
		expect(slow.accepted).toEqual(ids.slice(1));
	});

	it("lets an urgent one overtake, and not one that was to go only tomorrow hold up today's", async () => {
		const [[personId, ids]] = [...(await forEach(1, 2))] as [[string, string[]]];
		const atMs = clock.nowMs();
		const tomorrowMs = atMs + 24 * 60 * MINUTE_MS;
		await aMessage(store, { recipientId: personId, readyAtMs: tomorrowMs, nextTryAtMs: tomorrowMs });
		const today = await aMessage(store, { recipientId: personId, readyAtMs: atMs, nextTryAtMs: atMs });
		const urgent = await aMessage(store, { recipientId: personId, urgent: true, readyAtMs: atMs, nextTryAtMs: atMs });
		const slow = new Slow((id) => ({ afterTurns: 1, delivery: id === ids[0] ? refusedForNow() : accepted() }));
		const one = dispatcher(slow);
		await all(one);
		expect(slow.accepted).toEqual([urgent.id]);
		for (let minute = 0; minute < 300; minute++) {
			clock.advance(MINUTE_MS);
			await all(one);
		}
		expect(slow.accepted).toEqual([urgent.id, ids[1], today.id]);
	});

	it("waits for the lease of one that another worker had claimed when it was killed: 60 s", async () => {
		const [[, ids]] = [...(await forEach(1, 2))] as [[string, string[]]];
		const leaseMs = clock.nowMs() + MINUTE_MS;
		await store.work.run((tx) =>
			tx.affected("UPDATE message SET state = 'claimed', claim = 1, next_try_at_ms = $1 WHERE id = $2", [leaseMs, ids[0]]),
		);
		const slow = new Slow(() => ({ afterTurns: 1, delivery: accepted() }));
		const one = dispatcher(slow);
		clock.moveTo(leaseMs - 1);
		await all(one);
		expect(slow.begun).toEqual([]);
		clock.moveTo(leaseMs);
		await all(one);
		expect(slow.accepted).toEqual(ids);
	});

	it("is kept by 4 workers at once on 20 people with 6 messages each, a third of the sends refused for now", async () => {
		const byPerson = await forEach(20, 6);
		const chance = new SeededRandomness(7);
		const slow = new Slow(() => ({
			afterTurns: chance.below(20),
			delivery: chance.fraction() < 1 / 3 ? refusedForNow() : accepted(),
		}));
		// Small claims cut through the messages of one person.
		const workers = Array.from({ length: 4 }, () => dispatcher(slow, { batchSize: 7, sendTries: 50 }));
		const left = () => store.query<{ n: number }>("SELECT count(*) AS n FROM message WHERE next_try_at_ms IS NOT NULL");
		for (let round = 0; round < 600 && (await left())[0]?.n !== 0; round++) {
			await Promise.all(workers.map((worker) => worker.dispatchAll()));
			await Promise.all(workers.map((worker) => worker.settled()));
			clock.advance(5 * MINUTE_MS);
		}
		expect(slow.accepted).toHaveLength(120);
		for (const ids of byPerson.values()) expect(slow.accepted.filter((id) => ids.includes(id))).toEqual(ids);
	}, 60_000);
});
