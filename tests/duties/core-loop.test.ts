import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, START_MS, settle, type World } from "../support/world.js";

onEachDatabase("the core loop", (kind) => {
	let world: World;
	beforeEach(async () => {
		world = await newWorld(kind);
		await settle(world);
	});
	afterEach(() => world.remove());

	const text = (body: string, from = "+447700900002", messageId = `m${Math.random()}`) =>
		world.replies.receive({ channel: "sms", channelMessageId: messageId, fromAddress: from, body });

	it("opens one task, with one reminder to the keeper, on the day the chance of being under 3.5 g/L passes 5 %, and not before", async () => {
		const { id } = await aBatch(world);
		const detail = await world.batches.detail("B1");
		const dueAtMs = detail.forecast.retestAtMs as number;
		expect(detail.forecast.retestReason).toBe("chancePassesTolerance");
		expect(detail.forecast.atRetest?.chanceUnderLimit).toBeCloseTo(0.05, 3);
		world.clock.moveTo(dueAtMs - 1);
		expect(await world.sweep.openDue()).toBe(0);
		world.clock.moveTo(dueAtMs);
		expect(await world.sweep.openDue()).toBe(1);
		expect(await world.sweep.openDue()).toBe(0);
		const [task] = await world.tasks();
		expect(task).toMatchObject({ kind: "retest stored bleach", subjectId: id, assigneeId: "vol", state: "open" });
		expect(await world.messages()).toMatchObject([
			{ text: "retest.first", recipientId: "vol", taskId: task?.id, state: "waiting" },
		]);
	});

	it("takes the answer by text: the forecast follows it, the task closes, the next due instant is set and she is told the dose", async () => {
		await aBatch(world);
		const before = await world.batches.detail("B1");
		world.clock.moveTo(before.forecast.retestAtMs as number);
		await world.sweep.openDue();
		const [task] = await world.tasks();
		world.clock.advance(2 * HOUR_MS);
		const brief = JSON.parse(task?.brief ?? "{}");
		expect(brief).toMatchObject({ jar: "B1", sampleMl: 1 });
		// At 1 mL in so many L a jar of about 4.6 g/L reads 4.6/L mg/L: the colour that comes nearest.
		const reading = Math.round(4.6 / brief.waterL);
		expect(await text(`${task?.code} ${reading}`)).toEqual({ outcome: "accepted", repeated: false, taskCode: task?.code });
		expect((await world.tasks())[0]).toMatchObject({ state: "done" });
		const after = await world.batches.detail("B1");
		expect(after.tests).toHaveLength(1);
		const width = (f: typeof after.forecast) => f.now.highGPerL - f.now.lowGPerL;
		expect(width(after.forecast)).toBeLessThan(before.forecast.now.highGPerL);
		const due = await world.store.query("SELECT due_at_ms, cycle FROM due");
		expect(due).toEqual([{ dueAtMs: after.forecast.retestAtMs, cycle: 2 }]);
		expect(after.forecast.retestAtMs).toBeGreaterThan(world.clock.nowMs());
		const told = (await world.messages()).at(-1);
		expect(told).toMatchObject({ text: "dose.told", recipientId: "vol", nextTryAtMs: world.clock.nowMs() });
		expect(JSON.parse(told?.fill ?? "{}").doses).toMatch(/^20 L \d+(\.5)?\/\d+(\.5)? mL$/);
	});

	it("reminds once more after 24 h of silence, tells the supervisor after 48 h, and then no more", async () => {
		await aBatch(world);
		await world.live(30);
		const messages = await world.messages();
		expect(messages.map(({ text: name, recipientId }) => [name, recipientId])).toEqual([
			["retest.first", "vol"],
			["retest.again", "vol"],
			["retest.supervisor", "sup"],
		]);
		const hours = messages.map((message) => (message.createdAtMs - (messages[0]?.createdAtMs ?? 0)) / HOUR_MS);
		expect(hours).toEqual([0, 24, 48]);
		expect(await world.tasks()).toHaveLength(1);
	});

	it("opens one task a jar, not one a missed day, when the clock jumps over 40 days, and doubles nothing when it goes back", async () => {
		await aBatch(world, "B1");
		await aBatch(world, "B2");
		world.clock.advance(40 * DAY_MS);
		expect(await world.sweep.openDue()).toBe(2);
		await world.escalation.climb();
		const count = (await world.messages()).length;
		world.clock.moveTo(START_MS + 20 * DAY_MS);
		expect(await world.sweep.openDue()).toBe(0);
		expect(await world.escalation.climb()).toBe(0);
		world.clock.advance(20 * DAY_MS);
		expect(await world.sweep.openDue()).toBe(0);
		expect((await world.tasks()).length).toBe(2);
		expect((await world.messages()).length).toBe(count);
	});

	it("writes at most once to each person when the program was silent for a week and all steps of the ladder have passed", async () => {
		await aBatch(world);
		world.clock.moveTo((await world.batches.detail("B1")).forecast.retestAtMs as number);
		await world.sweep.openDue();
		world.clock.advance(7 * DAY_MS);
		await world.escalation.climb();
		expect((await world.messages()).map(({ text: name }) => name)).toEqual(["retest.first", "retest.again", "retest.supervisor"]);
	});

	it("takes the same text once: the second changes nothing and says so", async () => {
		await aBatch(world);
		await world.live(10);
		const [task] = await world.tasks();
		expect(await text(`${task?.code} 2`, "+447700900002", "gateway-1")).toMatchObject({ outcome: "accepted", repeated: false });
		const rows = await world.store.query("SELECT count(*) AS n FROM strength_test");
		expect(await text(`${task?.code} 2`, "+447700900002", "gateway-1")).toMatchObject({ outcome: "accepted", repeated: true });
		expect(await world.store.query("SELECT count(*) AS n FROM strength_test")).toEqual(rows);
		// Sent once more by hand: the task is closed by then.
		expect(await text(`${task?.code} 2`)).toMatchObject({ outcome: "closed already" });
		expect((await world.messages()).at(-1)).toMatchObject({ text: "reply.thanksRepeat" });
	});

	it("keeps a text that can't be read, changes nothing, and answers with an example that has the task's code", async () => {
		await aBatch(world);
		await world.live(10);
		const [task] = await world.tasks();
		expect(await text("the jar is nice")).toMatchObject({ outcome: "unclear" });
		expect(await world.store.query("SELECT body, outcome, person_id FROM reply")).toEqual([
			{ body: "the jar is nice", outcome: "unclear", personId: "vol" },
		]);
		const told = (await world.messages()).at(-1);
		expect(told).toMatchObject({ text: "reply.unclear", recipientId: "vol" });
		expect(JSON.parse(told?.fill ?? "{}").example).toContain(task?.code);
		expect((await world.tasks())[0]).toMatchObject({ state: "open" });
	});

	it("keeps a text from an unknown number and tells it nothing, not even of a code that exists", async () => {
		await aBatch(world);
		await world.live(10);
		const [task] = await world.tasks();
		const before = (await world.messages()).length;
		expect(await text(`${task?.code} 3`, "+447700900999")).toEqual({
			outcome: "unknown number",
			repeated: false,
			taskCode: null,
		});
		expect(await world.store.query("SELECT body FROM reply")).toEqual([{ body: `${task?.code} 3` }]);
		expect((await world.messages()).length).toBe(before);
		expect((await world.tasks())[0]).toMatchObject({ state: "open" });
	});

	it("keeps an answer from somebody else's phone and changes nothing", async () => {
		await aBatch(world);
		await world.live(10);
		const [task] = await world.tasks();
		expect(await text(`${task?.code} 3`, "+447700900001")).toMatchObject({ outcome: "not the assignee's" });
		expect((await world.tasks())[0]).toMatchObject({ state: "open" });
	});

	it("refuses a reading of 7 on a kit that ends at 5, says what the scale is, and leaves the task open", async () => {
		await aBatch(world);
		await world.live(10);
		const [task] = await world.tasks();
		expect(await text(`${task?.code} 7`)).toMatchObject({ outcome: "refused" });
		const told = (await world.messages()).at(-1);
		expect(told).toMatchObject({ text: "reply.outOfScale" });
		expect(JSON.parse(told?.fill ?? "{}").scale).toBe("0, 1, 2, 3, 4, 5+");
		expect((await world.tasks())[0]).toMatchObject({ state: "open" });
		expect(await world.store.query("SELECT id FROM strength_test")).toEqual([]);
	});

	it("takes a reading alone while just one task is open, and asks which one while two are", async () => {
		await aBatch(world, "B1");
		await world.live(10);
		await aBatch(world, "B2");
		expect(await text("3")).toMatchObject({ outcome: "accepted" });
		await world.live(40);
		const open = (await world.tasks()).filter((task) => task.state === "open");
		expect(open.length).toBe(2);
		expect(await text("3")).toMatchObject({ outcome: "unclear" });
	});

	it("asks again a day later, and tells the supervisor, when she can't test", async () => {
		await aBatch(world);
		await world.live(10);
		const [task] = await world.tasks();
		expect(await text(`${task?.code} can't`)).toMatchObject({ outcome: "accepted" });
		expect((await world.tasks())[0]).toMatchObject({ state: "cannot" });
		expect((await world.messages()).slice(-2).map(({ text: name, recipientId }) => [name, recipientId])).toEqual([
			["reply.cannot", "vol"],
			["retest.cannot.supervisor", "sup"],
		]);
		await world.live(1.1);
		expect((await world.tasks()).map(({ state }) => state)).toEqual(["cannot", "open"]);
	});

	it("says a jar is weak when it reads 1 mg/L at 1 mL in 2 L, asks for no more tests of it, and tells the supervisor", async () => {
		await aBatch(world);
		await world.live(10);
		const [task] = await world.tasks();
		expect(await text(`${task?.code} 1`)).toMatchObject({ outcome: "accepted" });
		expect((await world.messages()).slice(-2).map(({ text: name, recipientId }) => [name, recipientId])).toEqual([
			["jar.weak", "vol"],
			["jar.weak.supervisor", "sup"],
		]);
		expect(await world.store.query("SELECT state FROM batch")).toEqual([{ state: "weak" }]);
		expect(await world.store.query("SELECT due_at_ms FROM due WHERE kind = 'retest stored bleach'")).toEqual([{ dueAtMs: null }]);
	});

	it("writes nothing more to a phone that said STOP, and tells the supervisor", async () => {
		await aBatch(world);
		expect(await text("STOP")).toMatchObject({ outcome: "stop" });
		await world.live(30);
		expect((await world.messages()).filter(({ recipientId }) => recipientId === "vol")).toEqual([]);
		expect((await world.messages()).map(({ text: name }) => name)).toEqual(["stop.supervisor", "retest.supervisor"]);
	});

	it("takes a reading that was handed in unasked as the answer to the open task", async () => {
		await aBatch(world);
		await world.live(10);
		const test = {
			testedAtMs: world.clock.nowMs(),
			testerId: "vol",
			kit: "comparator 0-5",
			sampleMl: 1,
			madeUpToL: 2,
			reading: "2",
		};
		await world.readings.record("B1", test);
		expect((await world.tasks()).map(({ state }) => state)).toEqual(["done"]);
		await world.readings.record("B1", test);
		expect(await world.store.query("SELECT count(*) AS n FROM strength_test")).toEqual([{ n: 2 }]);
	});

	it("refuses a test in the future, and one before the batch was made, and keeps neither", async () => {
		await aBatch(world);
		const nowMs = world.clock.nowMs();
		const test = { testerId: null, kit: "comparator 0-5", sampleMl: 1, madeUpToL: 2, reading: "2" };
		await expect(world.readings.record("B1", { ...test, testedAtMs: nowMs + 1 })).rejects.toMatchObject({
			code: "time-in-future",
		});
		await expect(world.readings.record("B1", { ...test, testedAtMs: nowMs - 1 })).rejects.toMatchObject({
			code: "time-before-made",
		});
		expect(await world.store.query("SELECT id FROM strength_test")).toEqual([]);
	});

	it("refuses a batch in an unknown area, with a negative volume or a making in the future, and keeps none", async () => {
		await expect(aBatch(world, "B1", { areaCode: "nowhere" })).rejects.toMatchObject({ code: "unknown-area" });
		await expect(aBatch(world, "B1", { volumeL: -1 })).rejects.toThrow(/volume/);
		await expect(aBatch(world, "B1", { madeAtMs: world.clock.nowMs() + 1 })).rejects.toMatchObject({ code: "time-in-future" });
		expect(await world.store.query("SELECT id FROM batch")).toEqual([]);
	});

	it("keeps both answers or the first alone when two phones answer one task at the same moment", async () => {
		await aBatch(world);
		await world.live(10);
		const [task] = await world.tasks();
		const answer = { kind: "reading", reading: "2", takenAtMs: world.clock.nowMs() } as const;
		const outcomes = await Promise.allSettled(
			Array.from({ length: 20 }, () => world.answers.take(task?.id ?? "", answer, "vol")),
		);
		expect(outcomes.filter(({ status }) => status === "fulfilled")).toHaveLength(1);
		expect(await world.store.query("SELECT count(*) AS n FROM strength_test")).toEqual([{ n: 1 }]);
	});

	it("leaves reminders for after 06:00 when the instant comes at 02:00 local time", async () => {
		await aBatch(world);
		const dueAtMs = (await world.batches.detail("B1")).forecast.retestAtMs as number;
		// 02:00 in Nairobi is 23:00 UTC of the day before.
		const night = Math.ceil(dueAtMs / DAY_MS) * DAY_MS + 23 * HOUR_MS;
		world.clock.moveTo(night);
		await world.sweep.openDue();
		expect((await world.messages())[0]).toMatchObject({ createdAtMs: night, state: "held", heldUntilMs: night + 4 * HOUR_MS });
		world.clock.moveTo(night + 4 * HOUR_MS);
		await world.sweep.openDue();
		expect((await world.messages())[0]).toMatchObject({ state: "waiting", nextTryAtMs: night + 4 * HOUR_MS });
	});
});
