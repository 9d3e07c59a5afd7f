import { DoseNews } from "../../src/duties/dose-news.js";
import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, settle, type World } from "../support/world.js";

onEachDatabase("doses that are told anew", (kind) => {
	let world: World;
	beforeEach(async () => {
		world = await newWorld(kind);
		await settle(world);
	});
	afterEach(() => world.remove());

	const rules = (policy: object) =>
		world.store.work.run((tx) =>
			tx.query(
				"INSERT INTO programme (id, name, policy, changed_at_ms) VALUES ('programme', 'Invented programme', $1, 0) ON CONFLICT (id) DO UPDATE SET policy = excluded.policy",
				[JSON.stringify(policy)],
			),
		);
	const told = async () =>
		(await world.messages())
			.filter(({ text }) => text === "dose.told")
			.map((message) => ({ ...message, filled: JSON.parse(message.fill) as Record<string, string | number> }));
	const news = () => world.the(DoseNews);
	const drawOff = () =>
		world.moves.record("B1", {
			...{ kind: "drawn off", volumeMl: 1000, into: { code: "B1-1", keeperCode: "vol" } },
			...{ atMs: world.clock.nowMs(), byCode: "vol", note: null },
		});
	/** Clear water of 20 L, mL. */
	const clearMl = (doses: unknown): number => Number(/^20 L ([\d.]+)\//.exec(String(doses))?.[1]);

	it("goes to whoever has drawn bleach off, and again when its strength has probably fallen to 92 % of what she was told by", async () => {
		await rules({ doseAnewShare: 0.92, longestRetestDays: 60, toleratedChance: 0.4 });
		await aBatch(world);
		world.clock.advance(DAY_MS);
		await drawOff();
		expect(await news().tell()).toBe(1);
		expect(await news().tell()).toBe(0);
		const [first] = await told();
		expect(first).toMatchObject({ recipientId: "vol", taskId: null });
		expect(first?.filled).toMatchObject({ jar: "B1-1" });
		for (let hours = 0; hours < 30 * 24 && (await told()).length < 2; hours += 6) {
			world.clock.advance(6 * HOUR_MS);
			await news().tell();
		}
		const [, second] = await told();
		const share = Number(second?.filled["strengthGPerL"]) / Number(first?.filled["strengthGPerL"]);
		// Told to a tenth of a g/L: 0.92 of about 4.9, give and take that.
		expect(share).toBeGreaterThan(0.89);
		expect(share).toBeLessThan(0.95);
		expect(clearMl(second?.filled["doses"])).toBeGreaterThan(clearMl(first?.filled["doses"]));
	});

	it("tells nothing of a jar that was set aside, and nothing where the programme tests by a calendar or doesn't ask for it", async () => {
		await rules({});
		await aBatch(world);
		world.clock.advance(HOUR_MS);
		await drawOff();
		expect(await news().tell()).toBe(0);
		await rules({ doseAnewShare: 0.92, retestEveryDays: 7 });
		await world.moves.record("B1", {
			...{ kind: "drawn off", volumeMl: 1000, into: { code: "B1-2", keeperCode: "vol" } },
			...{ atMs: world.clock.nowMs(), byCode: "vol", note: null },
		});
		expect(await news().tell()).toBe(0);
		await rules({ doseAnewShare: 0.92 });
		await world.moves.record("B1", {
			...{ kind: "drawn off", volumeMl: 1000, into: { code: "B1-3", keeperCode: "vol" } },
			...{ atMs: world.clock.nowMs(), byCode: "vol", note: null },
		});
		await world.store.work.run((tx) =>
			tx.affected("UPDATE batch SET set_aside_until_ms = $1 WHERE code = 'B1-3'", [world.clock.nowMs() + DAY_MS]),
		);
		expect(await news().tell()).toBe(0);
		expect(await told()).toEqual([]);
	});
});

onEachDatabase("a fixed calendar", (kind) => {
	let world: World;
	beforeEach(async () => {
		world = await newWorld(kind);
		await settle(world);
		await world.store.work.run((tx) =>
			tx.query("INSERT INTO programme (id, name, policy, changed_at_ms) VALUES ('programme', 'Invented programme', $1, 0)", [
				JSON.stringify({ retestEveryDays: 7 }),
			]),
		);
	});
	afterEach(() => world.remove());

	it("asks for a test seven days after the making and seven days after a test, and judges a jar by that test alone", async () => {
		await aBatch(world);
		const madeAtMs = world.clock.nowMs();
		const { forecast } = await world.batches.detail("B1");
		expect(forecast).toMatchObject({ retestReason: "calendar", retestAtMs: madeAtMs + 7 * DAY_MS, verdict: "usable" });
		world.clock.moveTo(madeAtMs + 7 * DAY_MS);
		expect(await world.sweep.openDue()).toBe(1);
		const [task] = await world.tasks();
		await world.answers.take(
			task?.id as string,
			{
				kind: "reading",
				reading: "3",
				takenAtMs: world.clock.nowMs(),
				how: { kit: "comparator 0-5", sampleMl: 1, madeUpToL: 1.5 },
			},
			"vol",
		);
		expect((await world.batches.detail("B1")).forecast).toMatchObject({ retestAtMs: madeAtMs + 14 * DAY_MS, verdict: "usable" });
		world.clock.advance(7 * DAY_MS);
		await world.sweep.openDue();
		const open = (await world.tasks()).find(({ state }) => state === "open");
		await world.answers.take(
			open?.id as string,
			{
				kind: "reading",
				reading: "1",
				takenAtMs: world.clock.nowMs(),
				how: { kit: "comparator 0-5", sampleMl: 1, madeUpToL: 1.5 },
			},
			"vol",
		);
		expect((await world.batches.detail("B1")).forecast).toMatchObject({ retestAtMs: null, verdict: "weak" });
	});
});
