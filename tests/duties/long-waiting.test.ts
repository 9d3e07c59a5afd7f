import { pino } from "pino";
import { Metrics } from "../../src/api/metrics/metrics.js";
import { LongWaiting } from "../../src/duties/long-waiting.js";
import { Dispatcher } from "../../src/messages/dispatcher.js";
import { DAY_MS, HOUR_MS, MINUTE_MS } from "../../src/time/clock.js";
import { accepted, refusedForNow, TestNotifier } from "../support/notifiers.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, START_MS, settle, type World } from "../support/world.js";

onEachDatabase("reminders that pile up while a gateway is down", (kind) => {
	let world: World;
	let isUp: boolean;
	let notifier: TestNotifier;
	let dispatcher: Dispatcher;

	beforeEach(async () => {
		world = await newWorld(kind);
		await settle(world);
		isUp = false;
		notifier = new TestNotifier("sms", () => (isUp ? accepted() : refusedForNow()));
		const { store, clock, randomness, ids } = world;
		const log = pino({ level: "silent" });
		dispatcher = new Dispatcher(
			{ store, clock, randomness, ids, notifiers: new Map([["sms", notifier]]), log },
			{ leaseMs: 60_000, sendTimeoutMs: 10_000, sendTries: 1000, sendConcurrency: 1, circuitFailures: 1 },
		);
	});
	afterEach(() => world.remove());

	const dueAt = (atMs: number, code: string) =>
		world.store.work.run((tx) =>
			tx.affected("UPDATE due SET due_at_ms = $1 WHERE subject_id = (SELECT id FROM batch WHERE code = $2)", [atMs, code]),
		);
	/** Scheduler and dispatcher at work, every twenty minutes. */
	const live = async (hours: number) => {
		for (const untilMs = world.clock.nowMs() + hours * HOUR_MS; world.clock.nowMs() < untilMs; ) {
			world.clock.advance(20 * MINUTE_MS);
			await world.the(LongWaiting).takeBack();
			await world.escalation.climb();
			await world.sweep.openDue();
			while ((await dispatcher.dispatchReady()) > 0);
		}
	};
	const ofState = async (state: string) => (await world.messages()).filter((message) => message.state === state);
	const accepted_ = async () => (await ofState("sent")).map(({ text, recipientId }) => [text, recipientId]);

	const toHer = () => notifier.sent.filter(({ recipient }) => recipient.personId === "vol");
	/** The gateway works, and what it refused is forgotten. */
	const goesUp = () => {
		isUp = true;
		notifier.sent.splice(0);
	};

	it("go as one text when it is up again, with each task once: three jars due on three hours of one morning", async () => {
		for (const [i, code] of ["B1", "B2", "B3"].entries()) {
			await aBatch(world, code);
			await dueAt(START_MS + (1 + i) * HOUR_MS, code);
		}
		await live(4);
		expect((await world.tasks()).length).toBe(3);
		expect(await accepted_()).toEqual([]);
		goesUp();
		await live(5);
		const [text, ...more] = toHer();
		expect(more).toEqual([]);
		expect(text?.text).toMatch(/^3 jobs: .*B1.*B2.*B3/);
		const taken = await world.store.query("SELECT detail FROM ledger_entry WHERE action = 'messages taken back'");
		expect(taken.length).toBeGreaterThan(0);
	});

	it("don't count as told: nobody hears that she hasn't answered, and her ladder begins when the first one has gone", async () => {
		await aBatch(world, "B1");
		await dueAt(START_MS + HOUR_MS, "B1");
		await live(60);
		expect((await world.messages()).filter(({ text }) => text.endsWith(".supervisor"))).toEqual([]);
		expect((await world.tasks())[0]).toMatchObject({ state: "open", ladderStep: 0 });
		goesUp();
		await live(12);
		const [told] = await world.store.query<{ atMs: number }>(
			"SELECT ended_at_ms AS at_ms FROM message WHERE state = 'sent' AND text = 'retest.first'",
		);
		await live(60);
		const after = async (name: string) =>
			((await world.messages()).find(({ text }) => text === name)?.createdAtMs ?? 0) - (told?.atMs ?? 0);
		// She is looked for every hour.
		expect(await after("retest.again")).toBeGreaterThan(23 * HOUR_MS);
		expect(await after("retest.supervisor")).toBeGreaterThan(47 * HOUR_MS);
	});

	it("are dropped after 72 h with a record and a count, and told anew as things are then; of a closed task nothing is told anew", async () => {
		const metrics = new Metrics(world.store, world.clock, undefined, dispatcher);
		for (const code of ["B1", "B2", "B3"]) {
			await aBatch(world, code);
			await dueAt(START_MS + HOUR_MS, code);
		}
		await live(2);
		const [digest] = (await world.messages()).filter(({ text }) => text === "digest.work");
		expect(digest).toMatchObject({ state: "waiting" });
		const [, second] = await world.tasks();
		await world.store.work.run((tx) => tx.affected("UPDATE task SET state = 'done' WHERE id = $1", [second?.id]));
		await live(74);
		const stale = await ofState("stale");
		expect(stale.map(({ text }) => text)).toEqual(["digest.work"]);
		const [record] = await world.store.query<{ subjectId: string; detail: string }>(
			"SELECT subject_id, detail FROM ledger_entry WHERE action = 'stale message dropped'",
		);
		expect(record?.subjectId).toBe(stale[0]?.id);
		expect(JSON.parse(record?.detail ?? "{}")).toEqual({ toldAnew: 2 });
		expect((await metrics.text()).text).toMatch(/jarwatch_messages_total\{[^}]*outcome="stale"\} 1/);
		goesUp();
		await live(14);
		expect(toHer().map(({ text }) => text)).toEqual([expect.stringMatching(/^2 jobs: .*B1.*B3/)]);
	});

	it("that would come in her quiet hours when the gateway is back at 23:00 wait until 06:00", async () => {
		await aBatch(world, "B1");
		// 19:00 in Nairobi; she is quiet from 20:00 to 06:00.
		await dueAt(START_MS + 11 * HOUR_MS, "B1");
		await live(15);
		goesUp();
		await live(6);
		expect(toHer()).toEqual([]);
		await live(2);
		const [first] = toHer();
		expect(((first?.attemptedAtMs ?? 0) + 3 * HOUR_MS) % DAY_MS).toBe(6 * HOUR_MS);
	});

	it("leave urgent messages, answers and doses alone, however long these have waited", async () => {
		const put = (id: string, text: string, urgent: boolean) =>
			world.store.work.run((tx) =>
				tx.query(
					`INSERT INTO message (id, idempotency_key, recipient_id, text, fill, urgent, state, created_at_ms, ready_at_ms, next_try_at_ms, claim, tries)
					 VALUES ($1, $1, 'vol', $2, '{"jar":"B1","strengthGPerL":2}', $3, 'waiting', $4, $4, $4, 0, 0)`,
					[id, text, urgent, world.clock.nowMs()],
				),
			);
		await put("weak", "jar.weak", true);
		await put("aside", "jar.setAside", false);
		await put("noted", "reply.kept", false);
		await live(100);
		expect((await ofState("stale")).concat(await ofState("held"))).toEqual([]);
		goesUp();
		await live(6);
		expect((await accepted_()).map(([text]) => text).sort()).toEqual(["jar.setAside", "jar.weak", "reply.kept"]);
	});
});
