import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import { Water } from "../../src/water/water.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, settle, type World } from "../support/world.js";

/** 1 mL made up to 2 L that reads 2 mg/L comes from 3 to 5 g/L: bands end half way between whole colours (common practice, no source). */
const READ_2 = { kit: "comparator 0-5", sampleMl: 1, madeUpToL: 2, reading: "2" };

/** In clear glass in the sun nothing is left after weeks: any reading of strong bleach is impossible by the forecast. */
const IN_THE_SUN = { wall: "clearGlass", exposure: "directSun", litAreaM2: 0.05 } as const;

onEachDatabase("a reading that the forecast holds impossible", (kind) => {
	let world: World;
	beforeEach(async () => {
		world = await newWorld(kind);
		await settle(world);
		await aBatch(world, "B1", IN_THE_SUN);
	});
	afterEach(() => world.remove());

	const text = (body: string) =>
		world.replies.receive({ channel: "sms", channelMessageId: `m${Math.random()}`, fromAddress: "+447700900002", body });
	const told = async () => (await world.messages()).slice(-2).map(({ text: name, recipientId }) => [name, recipientId]);
	const lastTask = async () => (await world.tasks()).at(-1);
	const flags = async () =>
		(await world.store.query<{ flags: string }>("SELECT flags FROM strength_test")).map((row) => row.flags);

	/** 50 days later, with the task that has become due meanwhile. */
	async function late(): Promise<string> {
		world.clock.advance(50 * DAY_MS);
		await world.sweep.openDue();
		const { code, brief } = (await lastTask()) as { code: string; brief: string };
		expect(JSON.parse(brief)).toMatchObject({ jar: "B1", sampleMl: 1 });
		return code;
	}

	it("is kept when it comes as a text, flagged with the figures, and nobody doses by the jar", async () => {
		const code = await late();
		expect(await text(`${code} 4`)).toMatchObject({ outcome: "accepted" });
		expect(await flags()).toEqual([expect.stringContaining("contradicts")]);
		const { forecast } = await world.batches.detail("B1");
		expect(forecast).toMatchObject({ verdict: "test first", contradiction: { inARow: 1 }, retestReason: "contradicted" });
		expect(forecast.contradiction?.believedHighGPerL).toBeLessThan(1);
		expect(forecast.contradiction?.readLowGPerL).toBeGreaterThan(3);
		const water = world.the(Water);
		expect(await water.dose("B1", { volumeL: 20, turbidity: "clear" })).toEqual({
			kind: "refused",
			reason: "readingContradicts",
		});
		const [entry] = await world.store.query<{ detail: string }>(
			"SELECT detail FROM ledger_entry WHERE action = 'strength tested'",
		);
		expect(JSON.parse(entry?.detail ?? "{}")).toMatchObject({ reading: "4", contradiction: { inARow: 1 } });
	});

	it("has its volunteer told not to dose, and asked once more at the next sweep; her supervisor is told", async () => {
		const code = await late();
		await text(`${code} 4`);
		expect(await told()).toEqual([
			["jar.contradicts", "vol"],
			["jar.contradicts.supervisor", "sup"],
		]);
		expect(await world.sweep.openDue()).toBe(1);
		expect((await world.messages()).at(-1)).toMatchObject({ text: "retest.fresh", recipientId: "vol" });
		const task = await lastTask();
		expect(world.kinds.named("retest stored bleach").instructions(JSON.parse(task?.brief ?? "{}")).why).toMatch(/doesn't fit/);
	});

	it("sets the jar aside when the fresh sample contradicts too, and asks no third time", async () => {
		await text(`${await late()} 4`);
		await world.sweep.openDue();
		expect(await text(`${(await lastTask())?.code} 4`)).toMatchObject({ outcome: "accepted" });
		expect(await told()).toEqual([
			["jar.setAside", "vol"],
			["jar.contradicts.supervisor", "sup"],
		]);
		world.clock.advance(5 * DAY_MS);
		await world.sweep.openDue();
		const open = (await world.tasks()).filter(({ state }) => state === "open").map(({ kind: name }) => name);
		// Two samples against what is believed: it isn't tested again, it is taken out of use.
		expect(open).toEqual(["discard jar"]);
		expect((await world.batches.detail("B1")).forecast).toMatchObject({ verdict: "test first", retestAtMs: null });
		expect(await flags()).toHaveLength(2);
	});

	it("is kept when nobody asked for it, and when the office answers the task", async () => {
		world.clock.advance(50 * DAY_MS);
		await world.readings.record("B1", { ...READ_2, testedAtMs: world.clock.nowMs(), testerId: null });
		await world.sweep.openDue();
		const task = await lastTask();
		const answer = { kind: "reading", reading: "4", takenAtMs: world.clock.nowMs() } as const;
		expect(await world.answers.take(task?.id ?? "", answer, null)).toMatchObject({ accepted: true });
		expect(await flags()).toHaveLength(2);
	});

	it("is forgotten once the fresh sample fits: 5 g/L that read 0 an hour after its making reads 2 mg/L of 1 mL in 2 L an hour later", async () => {
		await aBatch(world, "B2");
		world.clock.advance(HOUR_MS);
		await world.readings.record("B2", { ...READ_2, reading: "0", testedAtMs: world.clock.nowMs(), testerId: null });
		expect((await world.batches.detail("B2")).forecast).toMatchObject({ contradiction: { inARow: 1 }, verdict: "test first" });
		world.clock.advance(HOUR_MS);
		await world.readings.record("B2", { ...READ_2, testedAtMs: world.clock.nowMs(), testerId: null });
		expect((await world.batches.detail("B2")).forecast).toMatchObject({ contradiction: null });
	});

	it("tells the same of both ways in which a test is recorded", async () => {
		await aBatch(world, "B2");
		await aBatch(world, "B3");
		await world.live(12);
		const tasks = await world.tasks();
		const ofB2 = tasks.find(({ brief }) => JSON.parse(brief).jar === "B2");
		await text(`${ofB2?.code} 4`);
		await world.store.work.run((tx) => tx.affected("UPDATE task SET state = 'withdrawn' WHERE state = 'open'"));
		const { sampleMl, waterL } = JSON.parse(ofB2?.brief ?? "{}");
		const test = { ...READ_2, sampleMl, madeUpToL: waterL, reading: "4", testedAtMs: world.clock.nowMs(), testerId: "vol" };
		await world.readings.record("B3", test);
		const entries = await world.store.query<{ detail: string; areaId: string }>(
			"SELECT detail, area_id FROM ledger_entry WHERE action = 'strength tested' ORDER BY id",
		);
		const [byText, unasked] = entries.map(({ detail, areaId }) => ({ ...JSON.parse(detail), areaId }));
		expect(unasked).toEqual({ ...byText, taskId: undefined });
		expect(Object.keys(unasked)).toEqual(expect.arrayContaining(["reading", "kit", "sampleMl", "madeUpToL", "strengthGPerL"]));
	});
});

onEachDatabase("a forecast", (kind) => {
	let world: World;
	beforeAll(async () => {
		world = await newWorld(kind);
		await settle(world);
	});
	afterAll(() => world.remove());

	it("is made though the clock was put back before the last test, and though the making was put right to after it", async () => {
		await aBatch(world);
		world.clock.advance(2 * DAY_MS);
		await world.readings.record("B1", { ...READ_2, testedAtMs: world.clock.nowMs(), testerId: null });
		world.clock.advance(-DAY_MS);
		expect((await world.batches.detail("B1")).forecast.now.medianGPerL).toBeGreaterThan(3);
		world.clock.advance(2 * DAY_MS);
		await world.store.work.run((tx) => tx.affected("UPDATE batch SET made_at_ms = $1", [world.clock.nowMs()]));
		expect((await world.batches.detail("B1")).forecast.now.medianGPerL).toBeGreaterThan(3);
	});
});
