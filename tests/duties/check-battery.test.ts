import { GeneratorRecords } from "../../src/duties/generator-records.js";
import { DAY_MS, HOUR_MS, MINUTE_MS } from "../../src/time/clock.js";
import { aGenerator, aRun, dueOf, emptied, keepRun, wait } from "../generators/given.js";
import { onEachDatabase } from "../support/stores.js";
import { newWorld, settle, type World } from "../support/world.js";

const CHECK = "check battery";

onEachDatabase("a battery", (kind) => {
	let world: World;
	let id: string;
	beforeAll(async () => {
		world = await newWorld(kind);
		await settle(world);
	});
	beforeEach(async () => {
		await emptied(world);
		await aGenerator(world);
		const label = { ratedAh: 70, ratedHours: 20, peukertExponent: 1.2 };
		id = (await records().battery({ code: "BAT-1", areaId: "area", generatorId: "gen", ...label, sinceMs: world.clock.nowMs() }))
			.id;
	});
	afterAll(() => world.remove());

	const records = () => world.the(GeneratorRecords);
	const text = (body: string) =>
		world.replies.receive({ channel: "sms", channelMessageId: `m${Math.random()}`, fromAddress: "+447700900002", body });
	const open = async () => (await world.tasks()).find((task) => task.kind === CHECK && task.state === "open");
	const lastText = async () => (await world.messages()).filter(({ text: name }) => name.startsWith("battery.")).at(-1);
	const runOnIt = (over: Parameters<typeof aRun>[1] = {}) =>
		keepRun(world, aRun(world, { powerSource: "battery", batteryId: id, product: null, rinsed: true, ...over }));

	it("is read a week after it was put in, by the generator's operator, with steps, and its charge is told", async () => {
		expect(await dueOf(world, CHECK)).toEqual([{ subjectId: id, dueAtMs: world.clock.nowMs() + 7 * DAY_MS }]);
		await world.live(7.1);
		const task = (await open())!;
		expect(task.assigneeId).toBe("vol");
		const told = world.kinds.named(CHECK).instructions(JSON.parse(task.brief));
		expect(told.why).toContain("not read for 7 days");
		expect(told.steps.join(" ")).toContain("6 hours");
		expect(told.cautions.join(" ")).toMatch(/Battery acid burns/);
		expect(await text(`${task.code} 12.65`)).toMatchObject({ outcome: "accepted" });
		// Source: trade table, 12.65 V is full (published/making.json); 75 min at 8.4 A draw 0.18 of 70 A h.
		const said = (await lastText())!;
		expect([said.text, JSON.parse(said.fill)]).toEqual([
			"battery.told",
			expect.objectContaining({ battery: "BAT-1", percent: 100, enough: "yes" }),
		]);
		expect((await dueOf(world, CHECK))[0]?.dueAtMs).toBe(world.clock.nowMs() + 7 * DAY_MS);
	});

	it.each([
		["12.24", "no"],
		["11.9", "no"],
	])("at %s V is to be charged before the next run", async (volts, enough) => {
		await world.live(7.1);
		await text(`${(await open())!.code} ${volts}`);
		expect(JSON.parse((await lastText())!.fill)).toMatchObject({ enough });
	});

	it("answered with 24 V or DONE is asked again at once; at 13.4 V it was being charged, and is asked for the next day", async () => {
		await world.live(7.1);
		const task = (await open())!;
		expect(await text(`${task.code} 24`)).toMatchObject({ outcome: "refused" });
		expect(await text(`${task.code} DONE`)).toMatchObject({ outcome: "refused" });
		expect(await world.store.query("SELECT id FROM battery_reading")).toEqual([]);
		expect(await text(`${task.code} 13.4`)).toMatchObject({ outcome: "accepted" });
		expect((await lastText())?.text).toBe("battery.unrested");
		await world.live(1);
		expect(await open()).toBeDefined();
	});

	it("is read after five runs, and sooner where the count has fallen to half", async () => {
		// Peukert: 20*(70/(8.4*20))^1.2 = 6.99 h at 8.4 A: five runs of 30 min draw 0.36.
		for (let n = 0; n < 5; n++) {
			expect(await open()).toBeUndefined();
			await runOnIt({ startedAtMs: world.clock.nowMs(), endedAtMs: wait(world, 30 * MINUTE_MS) });
			wait(world, HOUR_MS);
			await world.sweep.openDue();
		}
		expect(JSON.parse((await open())!.brief).reason).toBe("5 runs since it was read, once in 5 is due");
		await text(`${(await open())!.code} 12.65`);
		// Three runs of 75 min more: 0.54.
		for (let n = 0; n < 3; n++) await runOnIt({ startedAtMs: world.clock.nowMs(), endedAtMs: wait(world, 75 * MINUTE_MS) });
		wait(world, 3 * HOUR_MS);
		await world.sweep.openDue();
		expect(JSON.parse((await open())!.brief)).toMatchObject({
			reason: "counted down to 46 %, where a run should stop at 50 %",
			percent: 46,
		});
	});

	it("that fell from full to a quarter by runs that draw a third of its label is worn out, and the supervisor is told", async () => {
		await records().batteryRead({
			batteryId: id,
			restVoltageV: 12.65,
			restHours: 8,
			readAtMs: world.clock.nowMs(),
			readerId: "vol",
		});
		// 150 min at 8.4 A: 0.358 of the label.
		await runOnIt({ startedAtMs: world.clock.nowMs(), endedAtMs: wait(world, 150 * MINUTE_MS) });
		await world.live(7.1);
		await text(`${(await open())!.code} 12.06`);
		const worn = (await world.messages()).find(({ text: name }) => name === "battery.worn.supervisor");
		// 0.358 of the label over a fall of 0.75.
		expect([worn?.recipientId, JSON.parse(worn!.fill).percent]).toEqual(["sup", 48]);
	});

	it("that is read at the office has its open task closed; one that is replaced is asked for no more", async () => {
		await world.live(7.1);
		await records().batteryRead({
			batteryId: id,
			restVoltageV: 12.5,
			restHours: 7,
			readAtMs: world.clock.nowMs(),
			readerId: null,
		});
		expect(await open()).toBeUndefined();
		await world.live(7.1);
		expect(await open()).toBeDefined();
		const next = await records().batteryReplaced(id, world.clock.nowMs(), null);
		expect(await open()).toBeUndefined();
		await world.live(7.1);
		expect((await open())?.subjectId).toBe(next.id);
	});
});
