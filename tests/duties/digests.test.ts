import { pino } from "pino";
import { Dispatcher } from "../../src/messages/dispatcher.js";
import { segmentsOf } from "../../src/messages/segments.js";
import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import { accepted, TestNotifier } from "../support/notifiers.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, type MessageFacts, newWorld, START_MS, settle, type World } from "../support/world.js";

onEachDatabase("messages about work", (kind) => {
	let world: World;
	let notifier: TestNotifier;
	beforeEach(async () => {
		world = await newWorld(kind);
		await settle(world);
		notifier = new TestNotifier("test", () => accepted());
	});
	afterEach(() => world.remove());

	/** Makes each jar due at an instant, whatever its forecast says. */
	const dueAt = (atMs: number, ...codes: string[]) =>
		world.store.work.run(async (tx) => {
			for (const code of codes)
				await tx.query("UPDATE due SET due_at_ms = $1 WHERE subject_id = (SELECT id FROM batch WHERE code = $2)", [atMs, code]);
		});
	const jars = async (count: number) => {
		const codes = Array.from({ length: count }, (_, i) => `B${i + 1}`);
		for (const code of codes) await aBatch(world, code);
		await dueAt(START_MS + DAY_MS, ...codes);
		return codes;
	};
	const rules = (messages: object) =>
		world.store.work.run((tx) =>
			tx.query(
				"INSERT INTO programme (id, name, policy, changed_at_ms) VALUES ('programme', 'Invented', $1, 0) ON CONFLICT (id) DO UPDATE SET policy = excluded.policy",
				[JSON.stringify({ messages })],
			),
		);
	const sent = async () => {
		const { store, clock, randomness, ids } = world;
		const log = pino({ level: "silent" });
		const dispatcher = new Dispatcher(
			{ store, clock, randomness, ids, notifiers: new Map([["test", notifier]]), log },
			{ leaseMs: 60_000, sendTimeoutMs: 10_000, sendTries: 7, sendConcurrency: 4 },
		);
		while ((await dispatcher.dispatchReady()) > 0);
		return notifier.sent.splice(0).map(({ text, recipient }) => ({ text, to: recipient.personId }));
	};
	const ofState = async (state: string) => (await world.messages()).filter((message) => message.state === state);

	it("about three jars due at once go out as one text with a line a jar, its code and its dilution; each task keeps which message told of it", async () => {
		await jars(3);
		world.clock.moveTo(START_MS + DAY_MS);
		expect(await world.sweep.openDue()).toBe(3);
		const [digest] = await ofState("waiting");
		expect((await ofState("merged")).map(({ text, digestId }) => [text, digestId])).toEqual(
			Array.from({ length: 3 }, () => ["retest.first", digest?.id]),
		);
		const codes = (await world.tasks()).map(({ code }) => code);
		const texts = await sent();
		expect(texts).toHaveLength(1);
		expect(texts[0]?.text).toMatch(
			/^3 jobs: (\w{5} test jar B\d 1 mL in \d(\.\d)? L(; |\. )){3}Answer each: code and number, or code and DONE\.$/,
		);
		for (const code of codes) expect(texts[0]?.text).toContain(code);
		expect(segmentsOf(texts[0]?.text ?? "").segments).toBe(1);
		expect(await sent()).toEqual([]);
	});

	it("that wait in quiet hours go together with what becomes due in the morning", async () => {
		await aBatch(world, "B1");
		await aBatch(world, "B2");
		// 23:00 and, the next morning, 06:00 in Nairobi; she is quiet from 20:00 to 06:00.
		const night = START_MS + 15 * HOUR_MS;
		await dueAt(night, "B1");
		await dueAt(night + 7 * HOUR_MS, "B2");
		world.clock.moveTo(night);
		await world.sweep.openDue();
		expect(await sent()).toEqual([]);
		world.clock.moveTo(night + 7 * HOUR_MS);
		await world.sweep.openDue();
		expect((await sent()).map(({ text }) => text)).toEqual([expect.stringMatching(/^2 jobs: .*B1.*B2/)]);
	});

	it("leave out a task that was closed before the text went, tell one that is left in its own words, and none at all when all are closed", async () => {
		await jars(2);
		world.clock.moveTo(START_MS + DAY_MS);
		await world.sweep.openDue();
		const [first, second] = await world.tasks();
		const answer = { kind: "reading", reading: "2", takenAtMs: world.clock.nowMs() } as const;
		await world.answers.take(first?.id ?? "", answer, null);
		const texts = (await sent()).filter(({ to }) => to === "vol").map(({ text }) => text);
		expect(texts.filter((text) => text.includes(second?.code ?? ""))).toEqual([expect.stringMatching(/^Test jar B\d today/)]);
		expect(texts.filter((text) => text.includes("jobs"))).toEqual([]);
		expect((await ofState("withdrawn")).map(({ taskId }) => taskId)).toEqual([first?.id]);

		await aBatch(world, "B8");
		await aBatch(world, "B9");
		await dueAt(world.clock.nowMs(), "B8", "B9");
		await world.sweep.openDue();
		for (const { id } of (await world.tasks()).slice(-2))
			await world.answers.take(id, { ...answer, takenAtMs: world.clock.nowMs() }, null);
		expect((await sent()).filter(({ text }) => /jobs|Test jar B[89]/.test(text))).toEqual([]);
	});

	it("stay what they were when a task is closed after its digest has gone", async () => {
		await jars(2);
		world.clock.moveTo(START_MS + DAY_MS);
		await world.sweep.openDue();
		await sent();
		const [first] = await world.tasks();
		await world.answers.take(first?.id ?? "", { kind: "cannot" }, "vol");
		expect((await world.messages()).find(({ taskId }) => taskId === first?.id)).toMatchObject({ state: "merged" });
	});

	it("about 30 jars are split so that no text is longer than 3 segments, and no jar is left out or told twice", async () => {
		await jars(30);
		await rules({ segmentsPerPersonDay: 100 });
		world.clock.moveTo(START_MS + DAY_MS);
		await world.sweep.openDue();
		const texts = (await sent()).map(({ text }) => text);
		expect(texts.length).toBeGreaterThan(1);
		for (const text of texts) expect(segmentsOf(text).segments).toBeLessThanOrEqual(3);
		const told = texts.flatMap((text) => [...text.matchAll(/(\w{5}) test jar (B\d+)/g)].map(([, code]) => code));
		expect(told.sort()).toEqual((await world.tasks()).map(({ code }) => code).sort());
	});

	it("beyond 4 segments a day wait for the next day's digest, visibly: in the list, and once in the ledger", async () => {
		await jars(30);
		await rules({ longestSegments: 2, segmentsPerPersonDay: 4 });
		world.clock.moveTo(START_MS + DAY_MS);
		await world.sweep.openDue();
		await world.sweep.openDue();
		const spent = (await sent()).reduce((sum, { text }) => sum + segmentsOf(text).segments, 0);
		expect(spent).toBeLessThanOrEqual(4);
		const held = await ofState("held");
		expect(held.length).toBeGreaterThan(5);
		// The next day's first minute that isn't quiet: 06:00 in Nairobi, 03:00 UTC.
		const morning = START_MS + 2 * DAY_MS - 2 * HOUR_MS;
		expect(new Set(held.map(({ heldBecause, heldUntilMs }) => `${heldBecause} ${heldUntilMs}`))).toEqual(
			new Set([`day ${morning}`]),
		);
		const entries = await world.store.query<{ detail: string }>(
			"SELECT detail FROM ledger_entry WHERE action = 'messages held back'",
		);
		expect(entries.map(({ detail }) => JSON.parse(detail).messages)).toEqual([held.length]);
		world.clock.moveTo(morning);
		await world.sweep.openDue();
		expect((await sent())[0]?.text).toContain((await codeOf(held[0] as MessageFacts)) as string);
	});

	it("beyond the programme's segments of a month wait day by day, and go when the month has changed", async () => {
		await jars(2);
		await rules({ segmentsPerMonth: 1, segmentsPerPersonDay: 12 });
		await aBatch(world, "B9");
		await dueAt(START_MS, "B9");
		await world.sweep.openDue();
		expect(await sent()).toHaveLength(1);
		world.clock.moveTo(START_MS + DAY_MS);
		await world.sweep.openDue();
		expect(await sent()).toEqual([]);
		expect((await ofState("held")).map(({ heldBecause }) => heldBecause)).toEqual(["month", "month"]);
		world.clock.moveTo(Date.UTC(2026, 3, 1, 4));
		await world.sweep.openDue();
		expect(await sent()).toHaveLength(1);
	});

	it("tell a supervisor once a day, at 08:00 of her own, of all that is late, with who has it and for how long", async () => {
		await jars(3);
		await world.live(5);
		const texts = (await sent()).filter(({ to }) => to === "sup").map(({ text }) => text);
		expect(texts).toEqual([
			expect.stringMatching(/^3 jobs are late: (\w{5} test jar B\d [^:]+: Invented Volunteer, 48 h(; |\. )){3}Please help/),
		]);
		const digests = (await world.messages()).filter(({ text }) => text === "digest.late");
		expect(digests.map(({ createdAtMs }) => createdAtMs)).toEqual([START_MS + 3 * DAY_MS]);
	});

	it("that can't be told, because an older task lacks a figure, fail visibly by themselves and hold up no other", async () => {
		await jars(3);
		world.clock.moveTo(START_MS + 12 * HOUR_MS);
		await dueAt(world.clock.nowMs(), "B1", "B2", "B3");
		// 17:00 UTC is 20:00 in Nairobi: held until 06:00.
		await world.sweep.openDue();
		const [first] = await ofState("held");
		await world.store.work.run((tx) => tx.query("UPDATE message SET fill = '{}' WHERE id = $1", [first?.id]));
		world.clock.advance(10 * HOUR_MS);
		await world.sweep.openDue();
		expect((await sent()).map(({ text }) => text)).toEqual([expect.stringMatching(/^2 jobs: /)]);
		expect((await ofState("failed")).map(({ id }) => id)).toEqual([first?.id]);
	});

	it("go one by one where the programme wants no digests", async () => {
		await jars(3);
		await rules({ together: false });
		world.clock.moveTo(START_MS + DAY_MS);
		await world.sweep.openDue();
		expect((await sent()).map(({ text }) => text)).toEqual(
			Array.from({ length: 3 }, () => expect.stringMatching(/^Test jar B\d today/)),
		);
	});

	it("are told once when two sweeps run at once", async () => {
		await jars(10);
		world.clock.moveTo(START_MS + DAY_MS);
		await Promise.all([world.sweep.openDue(), world.sweep.openDue()]);
		await world.sweep.openDue();
		const told = (await sent()).flatMap(({ text }) =>
			[...text.matchAll(/(\w{5}) test jar B\d+|Answer (\w{5})/g)].map((m) => m[1] ?? m[2]),
		);
		expect(told.sort()).toEqual((await world.tasks()).map(({ code }) => code).sort());
	});

	async function codeOf({ taskId }: MessageFacts): Promise<string | undefined> {
		return (await world.tasks()).find(({ id }) => id === taskId)?.code;
	}
});
