import { DAY_MS } from "../../src/time/clock.js";
import { type DatabaseKind, onEachDatabase } from "../support/stores.js";
import { aBatch, type TaskFacts } from "../support/world.js";
import { type Served, served } from "./served.js";

/** So many jars of which each asks to be tested. */
async function withOpenTasks(kind: DatabaseKind, count: number): Promise<Served> {
	const api = await served(kind);
	for (let n = 1; n <= count; n++) await aBatch(api.world, `B${n}`);
	await api.world.live(30, DAY_MS);
	return api;
}

/** An open task that no test has touched, and its jar. */
async function nextTask(api: Served): Promise<{ code: string; jar: string }> {
	const task = (await api.world.tasks()).find(({ state }) => state === "open") as TaskFacts;
	return { code: task.code, jar: JSON.parse(task.brief).jar };
}

onEachDatabase("a task", (kind) => {
	let api: Served;
	let code: string;
	let jar: string;
	beforeAll(async () => {
		api = await withOpenTasks(kind, 4);
	});
	beforeEach(async () => {
		({ code, jar } = await nextTask(api));
	});
	afterAll(() => api.close());

	it("is told in full: why now, numbered steps with amounts, cautions, and what to answer", async () => {
		const { status, body } = await api.ask("GET", `/tasks/${code}`);
		expect(status).toBe(200);
		expect(body).toMatchObject({
			code,
			kind: "retest stored bleach",
			state: "open",
			assigneeCode: "vol",
			areaCode: "A1",
			closedAt: null,
		});
		expect(body.why).toContain(jar);
		expect(body.steps.length).toBeGreaterThanOrEqual(4);
		expect(body.steps.join(" ")).toContain(`${body.brief.sampleMl} mL`);
		expect(body.cautions.join(" ")).toMatch(/Never mix/);
		expect(body.answerWith).toContain(code);
		expect(body.remindedTimes).toBeGreaterThan(0);
	});

	it("is found by its code in small letters too, and isn't by a code that there isn't", async () => {
		expect((await api.ask("GET", `/tasks/${code.toLowerCase()}`)).body.code).toBe(code);
		const { status, body } = await api.ask("GET", "/tasks/XXXXX");
		expect([status, body.code]).toEqual([404, "unknown-task"]);
	});

	it("that is answered with a reading is done, tells what followed, and can't be answered a second time", async () => {
		const answer = { answer: "reading", reading: "2", byPersonCode: "vol" };
		const first = await api.ask("POST", `/tasks/${code}/answer`, { body: answer });
		expect([first.status, first.body.state, first.body.outcome.reading]).toEqual([200, "done", "2"]);
		const told = (await api.ask("GET", `/tasks/${code}`)).body;
		expect([told.state, told.closedByCode, told.closedAt]).toEqual([
			"done",
			"vol",
			new Date(api.world.clock.nowMs()).toISOString(),
		]);
		const second = await api.ask("POST", `/tasks/${code}/answer`, { body: answer });
		expect([second.status, second.body.code]).toEqual([409, "task-closed"]);
		expect((await api.ask("GET", `/batches/${jar}`)).body.tests).toHaveLength(1);
	});

	it("stays open where the reading isn't on the kit's scale, and the refusal says the scale", async () => {
		const { status, body } = await api.ask("POST", `/tasks/${code}/answer`, { body: { answer: "reading", reading: "7" } });
		expect([status, body.errors[0].pointer]).toEqual([422, "/reading"]);
		expect(body.detail).toContain("0, 1, 2, 3, 4, 5+");
		expect((await api.ask("GET", `/tasks/${code}`)).body.state).toBe("open");
	});

	it("that can't be done is closed as that, by the office where nobody is named", async () => {
		const { body } = await api.ask("POST", `/tasks/${code}/answer`, { body: { answer: "cannot" } });
		expect(body).toMatchObject({ taskCode: code, state: "cannot" });
		expect((await api.ask("GET", `/tasks/${code}`)).body).toMatchObject({ state: "cannot", closedByCode: null });
	});

	it.each([
		["nothing", {}, "/answer"],
		["another word", { answer: "maybe" }, "/answer"],
		["no reading", { answer: "reading" }, "/reading"],
		["a number as a reading", { answer: "reading", reading: 2 }, "/reading"],
		["a reading where it is done", { answer: "done", reading: "2" }, "/reading"],
		["a person that there isn't", { answer: "cannot", byPersonCode: "nobody" }, "/byPersonCode"],
		["a time without an offset", { answer: "reading", reading: "2", takenAt: "2026-03-10T08:00:00" }, "/takenAt"],
	])("refuses %s with 422 and says where it is wrong", async (_, body, pointer) => {
		const answer = await api.ask("POST", `/tasks/${code}/answer`, { body });
		expect([answer.status, answer.body.errors?.[0]?.pointer]).toEqual([422, pointer]);
	});

	it("doesn't take a reading of tomorrow", async () => {
		const takenAt = new Date(api.world.clock.nowMs() + DAY_MS).toISOString();
		const { status, body } = await api.ask("POST", `/tasks/${code}/answer`, {
			body: { answer: "reading", reading: "2", takenAt },
		});
		expect([status, body.code]).toEqual([422, "time-in-future"]);
	});
});

onEachDatabase("a text that a gateway hands in", (kind) => {
	let api: Served;
	let code: string;
	const texted = (text: string, messageId: string, from = "+447700900002") =>
		api.ask("POST", "/replies/sms", { body: { messageId, from, text } });
	let jar: string;
	beforeAll(async () => {
		api = await withOpenTasks(kind, 8);
	});
	beforeEach(async () => {
		({ code, jar } = await nextTask(api));
	});
	afterAll(() => api.close());

	it("answers the sender's task, and changes nothing when it is handed in again with the same id", async () => {
		expect((await texted(`${code} 2`, "g1")).body).toEqual({ outcome: "accepted", repeated: false, taskCode: code });
		expect((await texted(`${code} 2`, "g1")).body).toEqual({ outcome: "accepted", repeated: true, taskCode: code });
		expect((await api.ask("GET", `/batches/${jar}`)).body.tests).toHaveLength(1);
	});

	it.each(["447700900002", "00447700900002", "+44 7700 900002", "+44 (7700) 900-002"])(
		"is known to come from her phone when the gateway writes it %s",
		async (from) => {
			expect((await texted(`${code} 2`, from, from)).body.outcome).toBe("accepted");
		},
	);

	it.each(["+447700900555", "INFO-SMS", "12345", "🦠"])(
		"tells %s, which isn't on the list, nothing but that, whatever it texts",
		async (from) => {
			expect((await texted(`${code} 2`, from, from)).body).toEqual({ outcome: "unknown number" });
			expect((await texted(`${code} 2`, from, from)).body).toEqual({ outcome: "unknown number" });
			expect((await api.ask("GET", `/tasks/${code}`)).body.state).toBe("open");
		},
	);

	it("may have 4096 bytes and not one more, whatever its characters take", async () => {
		expect((await texted("x".repeat(4096), "a")).status).toBe(200);
		expect((await texted("é".repeat(2048), "b")).status).toBe(200);
		for (const text of ["x".repeat(4097), "é".repeat(2049)]) {
			const { status, body } = await texted(text, "c");
			expect([status, body.code, body.errors[0].pointer]).toEqual([413, "too-large", "/text"]);
		}
	});

	it("is listed with what became of it, the newest first, by outcome, with three digits of the number", async () => {
		await texted(`${code} 2`, "first");
		await texted("how are you", "second");
		await texted("2", "third", "+447700900555");
		const outcomes = (await api.ask("GET", "/replies?limit=3")).body.items.map(({ outcome }: { outcome: string }) => outcome);
		expect(outcomes).toEqual(["unknown number", "unclear", "accepted"]);
		const { text, body } = await api.ask("GET", "/replies?outcome=accepted");
		expect(body.items[0]).toMatchObject({ channel: "sms", from: "…002", personCode: "vol", taskCode: code, text: `${code} 2` });
		expect(text).not.toContain("7700900002");
	});

	it.each([
		["no id", "/replies/sms", { from: "+447700900002", text: "2" }, "/messageId"],
		["no sender", "/replies/sms", { messageId: "1", from: " ", text: "2" }, "/from"],
		["a number as text", "/replies/sms", { messageId: "1", from: "+447700900002", text: 2 }, "/text"],
		["more than is known", "/replies/sms", { messageId: "1", from: "+447700900002", text: "2", admin: true }, "/admin"],
	])("is refused with %s", async (_, url, body, pointer) => {
		const answer = await api.ask("POST", url, { body });
		expect([answer.status, answer.body.errors[0].pointer]).toEqual([422, pointer]);
	});

	it("is refused for a channel whose name can't be one", async () => {
		const { status, body } = await api.ask("POST", "/replies/S%20M", { body: { messageId: "1", from: "x", text: "2" } });
		expect([status, body.errors[0].parameter]).toEqual([422, "channel"]);
	});
});
