import { DAY_MS, HOUR_MS, MINUTE_MS } from "../../src/time/clock.js";
import { aGenerator, aRun, dueOf, emptied, keepRun, wait } from "../generators/given.js";
import { onEachDatabase } from "../support/stores.js";
import { newWorld, settle, type World } from "../support/world.js";

onEachDatabase("a run that tests weak", (kind) => {
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
	const openTask = async (of: string) => (await world.tasks()).find((task) => task.kind === of && task.state === "open");
	/** Drop count: so many drops of 0.2 mg/L in 1 mL made up to 1 L are 0.2 g/L each. */
	const test = (batchCode: string, drops: number) =>
		world.readings.record(batchCode, {
			testedAtMs: world.clock.nowMs(),
			testerId: "vol",
			kit: "drop count",
			sampleMl: 1,
			madeUpToL: 1,
			reading: String(drops),
		});

	it("is run again for the minutes that Faraday's law gives, at the current and the efficiency of its runs", async () => {
		const { batchCode } = await keepRun(world, aRun(world));
		wait(world, HOUR_MS);
		await test(batchCode!, 17);
		await world.sweep.openDue();
		const task = (await openTask("run again"))!;
		const brief = JSON.parse(task.brief);
		expect(task.assigneeId).toBe("vol");
		// 17 drops: 3.2 to 3.4 g/L. The belief lies between that and the 5 g/L of the record, nearer to the reading.
		expect(brief.strengthGPerL).toBeGreaterThan(3.2);
		expect(brief.strengthGPerL).toBeLessThan(3.9);
		const [batch] = await world.store.query<{ forecast: string }>("SELECT forecast FROM batch");
		const strength = JSON.parse(batch!.forecast).now.medianGPerL;
		// Source: Faraday's law, 1.3228 g/(A h) a cell; the efficiency by which the run made 3.3 g/L.
		const efficiency = (Math.sqrt(3.2 * 3.4) * 5) / (1.3228 * 8.4 * 1.25 * 3);
		expect(brief.efficiencyPercent).toBe(Math.round(efficiency * 100));
		expect(brief.minutes).toBe(Math.ceil((((5 - strength) * 5) / (1.3228 * efficiency * 3 * 8.4)) * 60));
		const steps = world.kinds.named("run again").instructions(brief);
		expect(steps.steps.join(" ")).toContain(`run for ${brief.minutes} minutes at about 8.4 A`);
		expect(steps.cautions.join(" ")).toMatch(/hydrogen/);
		expect(steps.cautions.join(" ")).toMatch(/[Nn]o flame/);
		expect(steps.why).toContain(`${brief.strengthGPerL} g/L`);
		expect((await world.messages()).map(({ text: name }) => name)).toContain("run.first");
	});

	it("isn't run again when it reads 5 g/L, nor when the test comes days after the run", async () => {
		const { batchCode } = await keepRun(world, aRun(world));
		await test(batchCode!, 25);
		expect(await dueOf(world, "run again")).toEqual([]);
		wait(world, 4 * DAY_MS);
		await test(batchCode!, 15);
		expect(await dueOf(world, "run again")).toEqual([]);
	});

	it("answered with the minutes that it ran strengthens the same batch, whose older test then tells nothing of it", async () => {
		const { batchCode, run } = await keepRun(world, aRun(world));
		wait(world, HOUR_MS);
		await test(batchCode!, 17);
		await world.sweep.openDue();
		const task = (await openTask("run again"))!;
		wait(world, 2 * HOUR_MS);
		expect(await text(`${task.code} 30`)).toMatchObject({ outcome: "accepted" });
		const runs = await world.store.query(
			"SELECT started_at_ms, ended_at_ms, further_of_run_id, batch_id FROM generator_run ORDER BY started_at_ms",
		);
		expect(runs).toHaveLength(2);
		expect(runs[1]).toMatchObject({
			startedAtMs: world.clock.nowMs() - 30 * MINUTE_MS,
			endedAtMs: world.clock.nowMs(),
			furtherOfRunId: run.id,
			batchId: run.batchId,
		});
		const [batch] = await world.store.query("SELECT made_at_ms, made_strength_g_per_l, state FROM batch");
		expect(batch).toMatchObject({ madeAtMs: world.clock.nowMs(), state: "in use" });
		// 30 min at 60 % and 8.4 A through three cells add 2.0 g/L to 5 L (Faraday's law).
		expect(batch!["madeStrengthGPerL"]).toBeCloseTo(JSON.parse(task.brief).strengthGPerL + 2, 0);
		const closed = (await world.store.query("SELECT state, outcome FROM task WHERE id = $1", [task.id]))[0]!;
		expect(closed["state"]).toBe("done");
		expect(JSON.parse(String(closed["outcome"]))).toMatchObject({ minutes: 30 });
		// It is to be tested anew, at once.
		await world.sweep.openDue();
		expect(await openTask("retest stored bleach")).toBeDefined();
	});

	it("answered done counts as the minutes that were asked for; answered too soon for them it is refused", async () => {
		const { batchCode } = await keepRun(world, aRun(world));
		await test(batchCode!, 17);
		await world.sweep.openDue();
		const task = (await openTask("run again"))!;
		wait(world, 5 * MINUTE_MS);
		expect(await text(`${task.code} DONE`)).toMatchObject({ outcome: "refused" });
		expect(await text(`${task.code} 4000`)).toMatchObject({ outcome: "refused" });
		wait(world, 2 * HOUR_MS);
		expect(await text(`${task.code} DONE`)).toMatchObject({ outcome: "accepted" });
		const [further] = await world.store.query(
			"SELECT (ended_at_ms - started_at_ms) AS ms FROM generator_run WHERE further_of_run_id IS NOT NULL",
		);
		expect(Number(further!["ms"]) / MINUTE_MS).toBe(JSON.parse(task.brief).minutes);
	});

	/** A run of 5 L that tested weak, and whose task is open. */
	const toRunOn = async () => {
		const { batchCode } = await keepRun(world, aRun(world));
		wait(world, HOUR_MS);
		await test(batchCode!, 17);
		await world.sweep.openDue();
		return { batchCode: batchCode!, task: (await openTask("run again"))! };
	};
	const spill = (code: string, volumeMl: number) =>
		world.moves.record(code, { kind: "spilt", volumeMl, atMs: world.clock.nowMs(), byCode: null, note: null });

	it("answered when 0.4 L of 5 L are left is told that this can't be, puts nothing on file, and is taken once the litres are put right", async () => {
		const { batchCode, task } = await toRunOn();
		wait(world, 2 * HOUR_MS);
		await spill(batchCode, 4600);
		const before = await world.store.query("SELECT made_at_ms, made_strength_g_per_l FROM batch");
		// 60 min at 60 % and 8.4 A through three cells make 20 g of chlorine (Faraday's law): 50 g/L in 0.4 L.
		expect(await text(`${task.code} 60`)).toMatchObject({ outcome: "refused" });
		expect((await world.messages()).at(-1)).toMatchObject({ text: "run.impossible" });
		expect(JSON.parse((await world.messages()).at(-1)!.fill)).toMatchObject({ jar: batchCode, litres: 0.4, minutes: 60 });
		expect(await openTask("run again")).toMatchObject({ id: task.id });
		expect(await world.store.query("SELECT id FROM generator_run WHERE further_of_run_id IS NOT NULL")).toEqual([]);
		expect(await world.store.query("SELECT made_at_ms, made_strength_g_per_l FROM batch")).toEqual(before);
		expect(await world.store.query("SELECT outcome FROM reply WHERE task_id = $1", [task.id])).toEqual([{ outcome: "refused" }]);
		const counted = { kind: "counted", volumeMl: 4800, atMs: world.clock.nowMs(), byCode: null, note: null } as const;
		await world.moves.record(batchCode, counted);
		expect(await text(`${task.code} 60`)).toMatchObject({ outcome: "accepted" });
	});

	it("is withdrawn once so little of the batch is left that the plates aren't covered", async () => {
		const { batchCode, task } = await toRunOn();
		await spill(batchCode, 3000);
		await world.sweep.openDue();
		expect(await openTask("run again")).toMatchObject({ id: task.id });
		await spill(batchCode, 1000);
		await world.sweep.openDue();
		expect((await world.tasks()).find(({ id }) => id === task.id)?.state).toBe("withdrawn");
	});

	it("is closed by a test that finds the batch strong", async () => {
		const { batchCode } = await keepRun(world, aRun(world));
		await test(batchCode!, 19);
		await world.sweep.openDue();
		const task = (await openTask("run again"))!;
		wait(world, HOUR_MS);
		for (let n = 0; n < 3; n++) await test(batchCode!, 27);
		expect((await world.tasks()).find(({ id }) => id === task.id)?.state).toBe("withdrawn");
	});

	describe("and is still weak after further minutes", () => {
		const weakTwice = async () => {
			const { batchCode, run } = await keepRun(world, aRun(world, { saltG: 100, restVoltageV: 12.6 }));
			await test(batchCode!, 17);
			await world.sweep.openDue();
			wait(world, 2 * HOUR_MS);
			await text(`${(await openTask("run again"))!.code} DONE`);
			wait(world, HOUR_MS);
			await test(batchCode!, 15);
			await world.sweep.openDue();
			// So weak after further minutes doesn't fit what was believed: a fresh sample decides before anybody looks for a cause.
			expect(await openTask("find the fault")).toBeUndefined();
			await test(batchCode!, 15);
			await world.sweep.openDue();
			return { task: (await openTask("find the fault"))!, batchCode: batchCode!, run };
		};

		it("has its cause looked for: salt first where a third of it is missing, with the figures, and hydrogen and chlorine gas named", async () => {
			const { task } = await weakTwice();
			const brief = JSON.parse(task.brief);
			// On the mains: 3*0.05, 2*1 (too few runs for a trend), 1*12 (20 g/L of 30): 0.15 : 2 : 12.
			expect([brief.cause1, brief.saltPercent, brief.electrodePercent, brief.batteryPercent]).toEqual(["salt", 85, 14, 1]);
			const told = world.kinds.named("find the fault").instructions(brief);
			expect(told.steps[0]).toContain("20 g/L weighed in, 30 g/L planned");
			expect(told.cautions.join(" ")).toMatch(/chlorine gas/);
			expect(told.answerWith).toContain("5 too little salt");
			expect(task.subjectId).toBe("gen");
			expect(await openTask("run again")).toBeUndefined();
		});

		it.each([
			["3", "descaled"],
			["4", "electrode replaced"],
			["5", "salt corrected"],
		])("answered %s is followed by the fact: %s, and the batch is run on", async (number, work) => {
			const { task, run } = await weakTwice();
			expect(await text(`${task.code} ${number}`)).toMatchObject({ outcome: "accepted" });
			expect(
				(await world.store.query("SELECT work FROM generator_care WHERE task_id = $1", [task.id])).map((row) => row["work"]),
			).toContain(work);
			expect((await dueOf(world, "run again")).filter(({ dueAtMs }) => dueAtMs !== null)).toEqual([
				{ subjectId: run.id, dueAtMs: world.clock.nowMs() },
			]);
			expect((await world.messages()).map(({ text: name }) => name)).toEqual(
				expect.arrayContaining(["fault.told", "fault.found.supervisor"]),
			);
		});

		it("isn't answered by DONE or 7; by 0 the supervisor is told that nothing was found", async () => {
			const { task } = await weakTwice();
			expect(await text(`${task.code} DONE`)).toMatchObject({ outcome: "refused" });
			expect(await text(`${task.code} 7`)).toMatchObject({ outcome: "refused" });
			expect(await text(`${task.code} 0`)).toMatchObject({ outcome: "accepted" });
			expect((await world.messages()).map(({ text: name }) => name)).toContain("fault.nothing.supervisor");
			expect(await world.store.query("SELECT id FROM generator_care WHERE task_id = $1", [task.id])).toEqual([]);
		});
	});

	it("that would need more minutes than the programme allows has its cause looked for at once", async () => {
		const { batchCode } = await keepRun(world, aRun(world));
		for (let n = 0; n < 3; n++) await test(batchCode!, 5);
		await world.sweep.openDue();
		const task = (await openTask("find the fault"))!;
		expect(JSON.parse(task.brief)).toMatchObject({ reason: "too weak" });
		expect(await openTask("run again")).toBeUndefined();
	});

	it("at which no gas was seen has its cause looked for without a test", async () => {
		await keepRun(world, aRun(world, { gasSeen: false }));
		await world.sweep.openDue();
		expect(JSON.parse((await openTask("find the fault"))!.brief)).toMatchObject({ reason: "no gas" });
	});
});
