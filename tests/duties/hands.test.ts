import { TaskHands } from "../../src/duties/task-hands.js";
import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import { aPerson } from "../support/builders.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, settle, type TaskFacts, type World } from "../support/world.js";

onEachDatabase("an open task", (kind) => {
	let world: World;
	beforeEach(async () => {
		world = await newWorld(kind);
		await settle(world);
		await aBatch(world);
		world.clock.moveTo((await world.batches.detail("B1")).forecast.retestAtMs as number);
		await world.sweep.openDue();
	});
	afterEach(() => world.remove());

	const hands = () => world.the(TaskHands);
	const task = async () => (await world.tasks())[0] as TaskFacts & { nextStepAtMs: number | null; putOffTimes: number | null };
	const text = (body: string, from = "+447700900002") =>
		world.replies.receive({ channel: "sms", channelMessageId: `m${Math.random()}`, fromAddress: from, body });
	const told = async () => (await world.messages()).map(({ text: name, recipientId, state }) => [name, recipientId, state]);
	const said = async (action: string) =>
		(await world.store.query<{ detail: string }>("SELECT detail FROM ledger_entry WHERE action = $1", [action])).map(
			({ detail }) => JSON.parse(detail),
		);

	it("that is put off waits until the next working morning, when she is reminded; twice, and then no more", async () => {
		const { code, openedAtMs } = await task();
		for (const times of [1, 2]) {
			const before = (await task()).nextStepAtMs as number;
			expect(await text(`${code} tomorrow`)).toMatchObject({ outcome: "put off", taskCode: code });
			expect((await task()).putOffTimes).toBe(times);
			// 06:00 in Nairobi is 03:00 UTC.
			const morning = (Math.floor(world.clock.nowMs() / 86_400_000) + 1) * 86_400_000 + 3 * HOUR_MS;
			expect((await task()).nextStepAtMs).toBe(before + morning - world.clock.nowMs());
			expect((await world.messages()).find(({ state }) => state === "held")).toMatchObject({
				text: "retest.again",
				heldUntilMs: morning,
			});
			world.clock.moveTo(morning);
			await world.escalation.climb();
			await world.sweep.openDue();
			world.clock.advance(3 * HOUR_MS);
		}
		expect(await text(`${code} later`)).toMatchObject({ outcome: "not put off" });
		expect((await world.messages()).at(-1)).toMatchObject({ text: "reply.notLater", recipientId: "vol" });
		expect((await task()).putOffTimes).toBe(2);
		expect((await said("task put off")).map(({ times }) => times)).toEqual([1, 2]);
		await world.live(4);
		const late = (await world.messages()).find(({ text: name }) => name === "retest.supervisor");
		expect((late?.createdAtMs as number) - openedAtMs).toBeGreaterThan(48 * HOUR_MS);
	});

	it("that is urgent can't be put off", async () => {
		Object.defineProperty(world.kinds.named("retest stored bleach"), "isUrgent", { value: () => true });
		expect(await text(`${(await task()).code} tomorrow`)).toMatchObject({ outcome: "not put off" });
		expect((await task()).putOffTimes).toBeNull();
	});

	it("that the supervisor takes note of stays open and is asked for anew only four weeks later; said again it changes nothing", async () => {
		const { id } = await task();
		const sinceMs = await hands().acknowledge(id, "sup");
		world.clock.advance(HOUR_MS);
		expect(await hands().acknowledge(id, null)).toBe(sinceMs);
		await world.live(5);
		expect(await task()).toMatchObject({ state: "open", acknowledgedById: "sup", nextStepAtMs: sinceMs + 28 * DAY_MS });
		expect(await told()).toEqual([["retest.first", "vol", "waiting"]]);
		expect(await said("task acknowledged")).toHaveLength(1);
	});

	it("that is handed over keeps its code, is told to the new one and to who had it, begins its ladder anew, and takes the new one's answer", async () => {
		await aPerson(world.store, {
			id: "new",
			areaId: "area",
			name: "Invented Newcomer",
			phoneE164: "+447700900777",
			supervisorId: "sup",
		});
		const { id, code } = await task();
		world.clock.advance(2 * HOUR_MS);
		await hands().handOver(id, "new", "sup");
		await world.sweep.openDue();
		expect(await told()).toEqual([
			["retest.first", "vol", "withdrawn"],
			["retest.first", "new", "waiting"],
			["task.handedOver", "vol", "waiting"],
		]);
		expect(await task()).toMatchObject({ code, assigneeId: "new", nextStepAtMs: world.clock.nowMs() + 24 * HOUR_MS });
		expect(await text(`${code} 3`)).toMatchObject({ outcome: "not the assignee's" });
		expect(await text(`${code} 3`, "+447700900777")).toMatchObject({ outcome: "accepted" });
		expect(await said("task handed over")).toMatchObject([{ fromId: "vol", toId: "new", code }]);
	});

	it("isn't handed to who has it already or has left, nor once it is closed, and nothing is changed", async () => {
		const { id } = await task();
		await aPerson(world.store, { id: "gone", areaId: "area", active: false });
		await expect(hands().handOver(id, "vol", null)).rejects.toMatchObject({ code: "conflict" });
		await expect(hands().handOver(id, "gone", null)).rejects.toMatchObject({ code: "invalid-input" });
		await world.answers.take(id, { kind: "cannot" }, null);
		await expect(hands().handOver(id, "sup", null)).rejects.toMatchObject({ code: "task-closed" });
		await expect(hands().acknowledge(id, null)).rejects.toMatchObject({ code: "task-closed" });
		expect((await task()).assigneeId).toBe("vol");
		expect(await said("task handed over")).toEqual([]);
	});

	it("is asked back once when a text isn't understood; after that the supervisor is told, once, and she isn't asked again", async () => {
		for (let i = 0; i < 4; i++) expect(await text("the jar is nice")).toMatchObject({ outcome: "unclear" });
		const texts = (await world.messages()).slice(1).map(({ text: name, recipientId }) => [name, recipientId]);
		expect(texts).toEqual([
			["reply.unclear", "vol"],
			["reply.unclear.supervisor", "sup"],
		]);
		world.clock.advance(25 * HOUR_MS);
		await text("the jar is nice");
		expect((await world.messages()).at(-1)).toMatchObject({ text: "reply.unclear", recipientId: "vol" });
		expect(await world.store.query("SELECT count(*) AS n FROM reply")).toEqual([{ n: 5 }]);
	});

	it("is told to the health office where its ladder says so, at once where that step is urgent, by the channel that the step prefers", async () => {
		const policy = {
			ladder: [
				{ afterHours: 1, to: "assignee", channels: ["voice", "push"] },
				{ afterMinutes: 90, to: "health office", urgent: true },
			],
		};
		await world.store.work.run(async (tx) => {
			await tx.query("INSERT INTO programme (id, name, policy, changed_at_ms) VALUES ('programme', 'Invented', $1, 0)", [
				JSON.stringify(policy),
			]);
			await tx.query(`UPDATE person SET channels = '["sms","voice"]' WHERE id = 'vol'`);
			await tx.query("UPDATE task SET next_step_at_ms = 0");
		});
		await aPerson(world.store, { id: "office", role: "health office", areaId: "area" });
		world.clock.advance(2 * HOUR_MS);
		await world.escalation.climb();
		const rows = await world.store.query(
			"SELECT text, recipient_id, state, urgent, channels FROM message ORDER BY created_at_ms, id",
		);
		expect(rows.slice(1)).toMatchObject([
			{ text: "retest.again", recipientId: "vol", state: "held", channels: '["voice","sms"]' },
			{ text: "retest.supervisor", recipientId: "office", state: "waiting", channels: null },
		]);
	});
});
