import { needChanged } from "../../src/stock/due-work.js";
import { checkSums } from "../../src/stock/sums.js";
import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import { told } from "../support/moves.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, START_MS, settle, type World } from "../support/world.js";

/** 8 °C by night, 12 °C by day: bleach hardly ages. */
const COOL = Array.from({ length: 12 }, () => ({ dayMeanC: 12, nightMeanC: 8, cloudFraction: 0.4 }));

onEachDatabase("stock that runs low", (kind) => {
	let world: World;
	beforeEach(async () => {
		world = await newWorld(kind);
		await settle(world, { climate: COOL });
		await world.store.work.run(async (tx) => {
			await tx.query(
				`INSERT INTO generator (id, code, name, area_id, rated_current_a, cells_in_series, current_efficiency, batch_volume_l, salt_g_per_l, in_service, operator_id)
				 VALUES ('gen', 'G1', 'Invented generator', 'area', 10, 1, 0.6, 5, 30, $1, 'sup')`,
				[true],
			);
			// 8 households of 5 people at 5.3 L a day: 212 L of clear water at 1.875 mg/L are 0.3975 g of chlorine a day.
			for (let i = 0; i < 8; i++)
				await tx.query(
					`INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity) VALUES ($1, $1, 'area', 'vol', 5, 'well', 'clear')`,
					[`H${i}`],
				);
		});
	});
	afterEach(async () => {
		expect((await checkSums(world.store)).broken).toEqual([]);
		await world.remove();
	});

	const due = async (of: string) =>
		(await world.store.query<{ dueAtMs: number | null }>("SELECT due_at_ms FROM due WHERE kind = $1", [of]))[0]?.dueAtMs;
	const tasks = async (of: string) => (await world.tasks()).filter((task) => task.kind === of);
	const reply = (body: string, from = "+447700900002") =>
		world.replies.receive({ channel: "sms", channelMessageId: `m${world.ids.next()}`, fromAddress: from, body });
	const atPoint = (code: string, volumeL: number) =>
		aBatch(world, code, { keeperCode: null, generatorCode: "G1", volumeL, ph: 11, phKnowledge: "meter" });
	const give = (volumeMl: number, code = "V1") =>
		world.moves.record("P1", told(world, { kind: "drawn off", volumeMl, into: { code, keeperCode: "vol" } }));
	/** Her households have just been assigned to her. */
	const households = () => world.store.work.run((tx) => needChanged(tx, ["vol"], world.clock.nowMs()));
	const sweep = async () => {
		// A stock that is reckoned anew has plans made anew, and those of other generators.
		for (let i = 0; i < 4; i++) await world.sweep.openDue();
	};

	it("is due for collecting when use of 0.40 g a day leaves the reorder level: 1 L lasts about a week", async () => {
		await atPoint("P1", 20);
		await give(1000);
		await sweep();
		// 5 g at 0.3975 g a day; 1.19 g for 3 days, and safety of strength and use, leave 6 to 9 days.
		const at = await due("collect bleach");
		expect(((at as number) - START_MS) / DAY_MS).toBeGreaterThan(5.5);
		expect(((at as number) - START_MS) / DAY_MS).toBeLessThan(9);
		world.clock.moveTo((at as number) - HOUR_MS);
		await sweep();
		expect(await tasks("collect bleach")).toEqual([]);
		world.clock.advance(2 * HOUR_MS);
		await sweep();
		// Nobody has told of any use: what is usual is taken to be used.
		const [task] = await tasks("collect bleach");
		expect(task).toMatchObject({ state: "open", subjectId: "vol", assigneeId: "vol" });
		const brief = JSON.parse(task?.brief ?? "{}");
		expect(brief.point).toBe("G1");
		expect(brief.usableG).toBeLessThanOrEqual(brief.reorderG);
		expect(brief.usableMl).toBeLessThan(600);
	});

	it("is put off by a count that finds more than was expected, and brought forward by what was spilt", async () => {
		await atPoint("P1", 20);
		await give(1000);
		await sweep();
		const first = (await due("collect bleach")) as number;
		world.clock.advance(4 * DAY_MS);
		await world.moves.record("V1", told(world, { kind: "counted", volumeMl: 950 }));
		await sweep();
		const later = (await due("collect bleach")) as number;
		expect((later - first) / DAY_MS).toBeGreaterThan(2);
		await world.moves.record("V1", told(world, { kind: "spilt", volumeMl: 700 }));
		await sweep();
		expect(await tasks("collect bleach")).toMatchObject([{ state: "open" }]);
	});

	it("comes to her by her answer: DONE draws the planned litres off at the point, into a jar with its code", async () => {
		await atPoint("P1", 20);
		await households();
		await sweep();
		const [task] = await tasks("collect bleach");
		const { litres } = JSON.parse(task?.brief ?? "{}");
		// 10 days of 0.3975 g, with safety, at 5 g/L.
		expect(litres).toBeGreaterThanOrEqual(0.8);
		expect(litres).toBeLessThanOrEqual(1.5);
		expect(await reply(`${task?.code} done`)).toMatchObject({ outcome: "accepted" });
		const [jar] = await world.store.query("SELECT held_ul, keeper_id, drawn_from_id, made_at_ms FROM batch WHERE code = 'P1-1'");
		expect(jar).toMatchObject({ heldUl: litres * 1_000_000, keeperId: "vol", madeAtMs: START_MS });
		expect((await tasks("collect bleach"))[0]).toMatchObject({ state: "done" });
		await sweep();
		expect(await due("collect bleach")).toBeGreaterThan(START_MS + 5 * DAY_MS);
		expect((await world.messages()).at(-1)).toMatchObject({ text: "collect.noted", recipientId: "vol" });
	});

	it("stands in the kind of vessel that she filled last, which need not be the point's; her first is taken to be like the point's", async () => {
		await atPoint("P1", 20);
		await households();
		const collect = async () => {
			await sweep();
			const task = (await tasks("collect bleach")).find(({ state }) => state === "open");
			expect(await reply(`${task?.code} 1`)).toMatchObject({ outcome: "accepted" });
		};
		const walls = async () =>
			(await world.store.query("SELECT code, wall, lit_area_m2 FROM batch WHERE keeper_id = 'vol' ORDER BY code")) as unknown[];
		await collect();
		expect(await walls()).toEqual([{ code: "P1-1", wall: "opaque", litAreaM2: expect.any(Number) }]);
		await world.store.work.run((tx) =>
			tx.affected("UPDATE batch SET wall = 'translucent', lit_area_m2 = 0.025 WHERE code = 'P1-1'"),
		);
		world.clock.advance(2 * DAY_MS);
		await world.moves.record("P1-1", told(world, { kind: "spilt", volumeMl: 1000 }));
		await collect();
		expect((await walls()).at(-1)).toEqual({ code: "P1-2", wall: "translucent", litAreaM2: 0.025 });
		// What is forecast of it is what light does to it in her vessel, not at the point.
		const [stay] = await world.store.query(
			"SELECT wall FROM jar_stay WHERE in_jar_id = (SELECT id FROM batch WHERE code = 'P1-2')",
		);
		expect(stay).toEqual({ wall: "translucent" });
	});

	it("takes the litres that she took instead, and refuses more than the point's books hold", async () => {
		await atPoint("P1", 3);
		await households();
		await sweep();
		const [task] = await tasks("collect bleach");
		await reply(`${task?.code} 9`);
		expect((await world.messages()).at(-1)).toMatchObject({ text: "collect.notHeld" });
		await reply(`${task?.code} 0`);
		expect((await world.messages()).at(-1)).toMatchObject({ text: "collect.unclear" });
		expect((await tasks("collect bleach"))[0]).toMatchObject({ state: "open" });
		expect(await world.store.query("SELECT id FROM stock_move WHERE kind = 'drawn out'")).toEqual([]);
		expect(await reply(`${task?.code} 2.5`)).toMatchObject({ outcome: "accepted" });
		expect(await world.store.query("SELECT held_ul FROM batch ORDER BY code")).toEqual([
			{ heldUl: 500_000 },
			{ heldUl: 2_500_000 },
		]);
	});

	it("takes what was left of it where others came before her and she says that it is done; her task isn't left open for ever", async () => {
		await atPoint("P1", 3);
		await households();
		await sweep();
		const [task] = await tasks("collect bleach");
		const { litres } = JSON.parse(task?.brief ?? "{}");
		await world.moves.record("P1", told(world, { kind: "spilt", volumeMl: 3000 - 400 }));
		expect(litres).toBeGreaterThan(0.4);
		expect(await reply(`${task?.code} done`)).toMatchObject({ outcome: "accepted" });
		expect(await world.store.query("SELECT held_ul FROM batch WHERE code = 'P1-1'")).toEqual([{ heldUl: 400_000 }]);
		expect(JSON.parse((await world.messages()).at(-1)?.fill ?? "{}")).toMatchObject({ litres: 0.4 });
	});

	it("isn't asked for any more when others have taken all there was, and is asked for anew when bleach has come", async () => {
		await atPoint("P1", 3);
		await households();
		await sweep();
		await world.moves.record("P1", told(world, { kind: "spilt", volumeMl: 3000 }));
		await sweep();
		expect(await tasks("collect bleach")).toMatchObject([{ state: "withdrawn" }]);
		await atPoint("P2", 3);
		await sweep();
		expect((await tasks("collect bleach")).map(({ state }) => state)).toEqual(["withdrawn", "open"]);
	});

	it("isn't asked for any more when bleach has come in another way, and the task says why", async () => {
		await atPoint("P1", 20);
		await households();
		await sweep();
		await give(2000);
		await sweep();
		const [task] = await world.store.query<{ state: string; outcome: string }>(
			"SELECT state, outcome FROM task WHERE kind = 'collect bleach'",
		);
		expect(task?.state).toBe("withdrawn");
		expect(JSON.parse(task?.outcome ?? "{}")).toMatchObject({ because: "the stock is above its reorder level again" });
		expect(await due("collect bleach")).toBeGreaterThan(world.clock.nowMs());
	});

	it("is asked for again tomorrow, and told to the supervisor, when she can't", async () => {
		await atPoint("P1", 20);
		await households();
		await sweep();
		const [task] = await tasks("collect bleach");
		await reply(`${task?.code} can't`);
		expect((await world.messages()).map(({ text, recipientId }) => [text, recipientId])).toEqual(
			expect.arrayContaining([["collect.cannot.supervisor", "sup"]]),
		);
		world.clock.advance(DAY_MS + HOUR_MS);
		await sweep();
		expect((await tasks("collect bleach")).map(({ state }) => state)).toEqual(["cannot", "open"]);
	});

	it("with nothing at the point has bleach made: runs, salt, water, minutes, charge and drops in one plan", async () => {
		await households();
		await sweep();
		expect(await tasks("collect bleach")).toEqual([]);
		const [task] = await tasks("make bleach");
		expect(task).toMatchObject({ state: "open", subjectId: "gen", assigneeId: "sup" });
		const brief = JSON.parse(task?.brief ?? "{}");
		// One run of 5 L at 30 g/L of salt; 10 A and an efficiency of 0.6 make 5 · 5 g in 25 / (1.3228 · 10 · 0.6) h = 189 min (Faraday).
		expect(brief).toMatchObject({
			runs: 1,
			litres: 5,
			waterL: 5,
			saltG: 150,
			reagentDrops: 5,
			minutes: 189,
			volunteers: 1,
			standingL: 0,
		});
		const [plan] = await world.store.query("SELECT runs, litres, ended_at_ms FROM production_plan");
		expect(plan).toEqual({ runs: 1, litres: 5, endedAtMs: null });
		expect(await reply(`${task?.code} done`, "+447700900001")).toMatchObject({ outcome: "accepted" });
		const [batch] = await world.store.query("SELECT code, volume_l, keeper_id, generator_id, made_strength_ln_sd FROM batch");
		expect(batch).toEqual({ code: "G1-20260303", volumeL: 5, keeperId: null, generatorId: "gen", madeStrengthLnSd: 0.35 });
		// Bleach stands at the point: the volunteer who waits for it is asked at once.
		await sweep();
		expect(await tasks("collect bleach")).toMatchObject([{ state: "open", assigneeId: "vol" }]);
		expect(await world.store.query("SELECT ended_because FROM production_plan WHERE ended_at_ms IS NOT NULL")).toEqual([
			{ endedBecause: "made" },
		]);
	});

	it("isn't made twice: runs that were put on file since close the task by themselves", async () => {
		await households();
		await sweep();
		expect(await tasks("make bleach")).toMatchObject([{ state: "open" }]);
		world.clock.advance(3 * HOUR_MS);
		await atPoint("RUN-1", 5);
		await sweep();
		const [task] = await world.store.query<{ state: string; outcome: string }>(
			"SELECT state, outcome FROM task WHERE kind = 'make bleach'",
		);
		expect(task?.state).toBe("withdrawn");
		expect(JSON.parse(task?.outcome ?? "{}").standingL).toBeGreaterThan(4);
	});

	it("of a generator out of service is made by another in reach", async () => {
		await world.store.work.run(async (tx) => {
			await tx.query("UPDATE generator SET in_service = $1 WHERE id = 'gen'", [false]);
			await tx.query(
				`INSERT INTO area (id, code, name, time_zone, latitude_deg, longitude_deg, altitude_m, climate)
				 SELECT 'near', 'A2', name, time_zone, latitude_deg + 0.05, longitude_deg, altitude_m, climate FROM area WHERE id = 'area'`,
			);
			await tx.query(
				`INSERT INTO generator (id, code, name, area_id, rated_current_a, cells_in_series, current_efficiency, batch_volume_l, salt_g_per_l, in_service, operator_id)
				 VALUES ('gen2', 'G2', 'Invented generator', 'near', 10, 1, 0.6, 5, 30, $1, 'sup')`,
				[true],
			);
			await tx.query(
				"INSERT INTO due (kind, subject_id, area_id, due_at_ms, cycle) VALUES ('collect bleach', 'vol', 'area', $1, 1)",
				[START_MS],
			);
		});
		await sweep();
		expect(await tasks("make bleach")).toMatchObject([{ subjectId: "gen2", state: "open" }]);
	});

	it("that nobody in reach can make is told to the supervisor with the day on which households run out", async () => {
		await world.store.work.run(async (tx) => {
			await tx.query("UPDATE generator SET in_service = $1 WHERE id = 'gen'", [false]);
			await tx.query(
				"INSERT INTO due (kind, subject_id, area_id, due_at_ms, cycle) VALUES ('collect bleach', 'vol', 'area', $1, 1)",
				[START_MS],
			);
		});
		await sweep();
		const [task] = await tasks("make bleach");
		expect(task).toMatchObject({ subjectId: "gen", assigneeId: "sup" });
		expect(JSON.parse(task?.brief ?? "{}")).toMatchObject({ shortage: "yes", outOn: "2026-03-03", generator: "G1" });
		expect((await world.messages()).map(({ text, recipientId }) => [text, recipientId])).toContainEqual(["make.shortage", "sup"]);
	});
});
