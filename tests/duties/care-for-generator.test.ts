import { GeneratorRecords } from "../../src/duties/generator-records.js";
import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import { aGenerator, aRun, dueOf, emptied, keepRun, wait } from "../generators/given.js";
import { onEachDatabase } from "../support/stores.js";
import { newWorld, settle, type World } from "../support/world.js";

const CARE = "care for generator";

onEachDatabase("care for a generator", (kind) => {
	let world: World;
	beforeAll(async () => {
		world = await newWorld(kind);
		await settle(world);
	});
	beforeEach(async () => {
		await emptied(world);
		await aGenerator(world);
	});
	afterAll(() => world.remove());

	const text = (body: string) =>
		world.replies.receive({ channel: "sms", channelMessageId: `m${Math.random()}`, fromAddress: "+447700900002", body });
	const open = async () => (await world.tasks()).find((task) => task.kind === CARE && task.state === "open");
	const works = async () =>
		(await world.store.query<{ work: string }>("SELECT work FROM generator_care ORDER BY done_at_ms, id")).map(
			({ work }) => work,
		);
	/** One run of so many minutes every other day, each rinsed, with its test where drops are given. */
	const runs = async (count: number, over: Parameters<typeof aRun>[1] = {}, drops?: (run: number) => number) => {
		for (let n = 0; n < count; n++) {
			const { batchCode } = await keepRun(world, aRun(world, { rinsed: true, ...(drops ? {} : { product: null }), ...over }));
			if (drops && batchCode)
				await world.readings.record(batchCode, {
					testedAtMs: world.clock.nowMs(),
					testerId: "vol",
					kit: "drop count",
					sampleMl: 1,
					madeUpToL: 1,
					reading: String(drops(n)),
				});
			wait(world, 2 * DAY_MS);
		}
	};

	it("isn't due for one that never ran", async () => {
		expect(await dueOf(world, CARE)).toEqual([]);
	});

	it("is due at the end of a run that wasn't followed by rinsing, with the steps and what it gives off", async () => {
		const { run } = await keepRun(world, aRun(world));
		expect(await dueOf(world, CARE)).toEqual([{ subjectId: "gen", dueAtMs: run.endedAtMs }]);
		await world.sweep.openDue();
		const task = (await open())!;
		expect(task.assigneeId).toBe("vol");
		const brief = JSON.parse(task.brief);
		expect(brief).toMatchObject({
			rinse: "yes",
			inspect: "no",
			descale: "no",
			electrodeHours: 1,
			lifeLowHours: 3999,
			lifeHighHours: 7999,
		});
		const told = world.kinds.named(CARE).instructions(brief);
		expect(told.why).toContain("hasn't been rinsed since");
		expect(told.steps.join(" ")).not.toMatch(/vinegar/);
		expect(await text(`${task.code} DONE`)).toMatchObject({ outcome: "accepted" });
		expect(await works()).toEqual(["rinsed"]);
		expect(await open()).toBeUndefined();
	});

	it("is due once in seven days of work for a look, and asks for descaling where the look sees scale", async () => {
		await runs(1);
		await world.live(8, DAY_MS);
		const look = (await open())!;
		expect(JSON.parse(look.brief)).toMatchObject({ rinse: "no", inspect: "yes", descale: "no" });
		expect(await text(`${look.code} 5`)).toMatchObject({ outcome: "refused" });
		expect(await text(`${look.code} 2`)).toMatchObject({ outcome: "accepted" });
		wait(world, HOUR_MS);
		await world.sweep.openDue();
		const descale = (await open())!;
		const told = world.kinds.named(CARE).instructions(JSON.parse(descale.brief));
		expect(told.steps.join(" ")).toMatch(/vinegar, or of water with 20 g of citric acid/);
		expect(told.cautions.join(" ")).toMatch(/Acid and bleach together give off poisonous chlorine gas: empty and rinse first/);
		expect(told.why).toContain("scale was seen");
		expect(await text(`${descale.code} DONE`)).toMatchObject({ outcome: "accepted" });
		expect(await works()).toContain("descaled");
		await world.live(1);
		expect(await open()).toBeUndefined();
	});

	it("tells the supervisor of damage that a look saw", async () => {
		await runs(1);
		await world.live(8, DAY_MS);
		await text(`${(await open())!.code} 3`);
		expect((await world.messages()).map(({ text: name }) => name)).toContain("care.damage.supervisor");
	});

	it("is due for descaling after 30 runs, when the 30th ends", async () => {
		for (let n = 0; n < 30; n++) {
			const startedAtMs = world.clock.nowMs();
			await keepRun(world, aRun(world, { startedAtMs, endedAtMs: wait(world, HOUR_MS), product: null, rinsed: true }));
			wait(world, 5 * HOUR_MS);
			await world.sweep.openDue();
			if (n < 29 && (await open())) expect(JSON.parse((await open())!.brief).descale).toBe("no");
			if (n < 29 && (await open())) await text(`${(await open())!.code} DONE`);
		}
		const brief = JSON.parse((await open())!.brief);
		expect(brief.descale).toBe("yes");
		expect(brief.reasons).toContain("descale is due after 30 runs; it has had 30");
	});

	it("is due for descaling after 50 hours of work", async () => {
		await keepRun(world, aRun(world, { startedAtMs: world.clock.nowMs() - 20 * HOUR_MS, product: null, rinsed: true }));
		for (let n = 0; n < 2; n++)
			await keepRun(
				world,
				aRun(world, { startedAtMs: world.clock.nowMs(), endedAtMs: wait(world, 20 * HOUR_MS), product: null, rinsed: true }),
			);
		await world.sweep.openDue();
		expect(JSON.parse((await open())!.brief).reasons).toContain("descale is due after 50 hours of work; it has run 60");
	});

	it("is due for descaling when the efficiency of eight runs falls beyond its control limit", async () => {
		// 25 drops are 4.9 g/L; from the seventh run on 14 drops, 2.7 g/L.
		await runs(8, {}, (n) => (n < 6 ? 25 : 14));
		const plan = (await dueOf(world, CARE)).filter(({ dueAtMs }) => dueAtMs !== null && dueAtMs <= world.clock.nowMs());
		expect(plan).toHaveLength(1);
		await world.sweep.openDue();
		const brief = JSON.parse((await open())!.brief);
		expect(brief.descale).toBe("yes");
		expect(brief.reasons).toMatch(/current efficiency has fallen to 3\d %, beyond the control limit of 3[67] %/);
	});

	it("tells the supervisor once to order an electrode after 3200 hours", async () => {
		// 67 runs of 48 h, as on the mains.
		for (let n = 0; n < 67; n++)
			await keepRun(
				world,
				aRun(world, { startedAtMs: world.clock.nowMs(), endedAtMs: wait(world, 48 * HOUR_MS), product: null }),
			);
		await world.sweep.openDue();
		const task = (await open())!;
		expect(JSON.parse(task.brief)).toMatchObject({ order: "yes", electrodeHours: 3216 });
		await text(`${task.code} DONE`);
		const told = (await world.messages()).filter(({ text: name }) => name === "care.order.supervisor");
		expect(told.map(({ recipientId, fill }) => [recipientId, JSON.parse(fill).electrodeHours])).toEqual([["sup", 3216]]);
		await keepRun(world, aRun(world, { startedAtMs: world.clock.nowMs(), endedAtMs: wait(world, HOUR_MS), product: null }));
		await world.sweep.openDue();
		expect(JSON.parse((await open())!.brief).order).toBe("no");
	}, 60_000);

	it("is put off where it was expected but the generator ran less often", async () => {
		await runs(3);
		const { dueAtMs } = (await dueOf(world, CARE))[0]!;
		expect(dueAtMs).toBeGreaterThan(world.clock.nowMs() - 6 * DAY_MS);
		const records = world.the(GeneratorRecords);
		await records.care({ generatorId: "gen", works: ["inspected"], doneAtMs: world.clock.nowMs(), look: null, byPersonId: null });
		const next = (await dueOf(world, CARE))[0]!;
		// 27 more runs at one in two days.
		expect((next.dueAtMs! - world.clock.nowMs()) / DAY_MS).toBeCloseTo(52, -1);
		expect(await open()).toBeUndefined();
	});

	it("is closed, and isn't opened again, while the generator is out of service; it comes back with it", async () => {
		await keepRun(world, aRun(world));
		await world.sweep.openDue();
		const records = world.the(GeneratorRecords);
		await records.outOfService({ generatorId: "gen", fromMs: world.clock.nowMs(), reason: "cable broken", byPersonId: "sup" });
		expect(await open()).toBeUndefined();
		await world.live(3);
		expect(await open()).toBeUndefined();
		await records.inService({ generatorId: "gen", untilMs: world.clock.nowMs(), byPersonId: "sup" });
		await world.sweep.openDue();
		expect(JSON.parse((await open())!.brief)).toMatchObject({ rinse: "yes" });
	});

	it("that nobody can do is told to the supervisor and asked for again the next day", async () => {
		await keepRun(world, aRun(world));
		await world.sweep.openDue();
		await text(`${(await open())!.code} CANNOT`);
		expect((await world.messages()).map(({ text: name }) => name)).toContain("work.cannot.supervisor");
		await world.live(1.1);
		expect(await open()).toBeDefined();
	});
});
