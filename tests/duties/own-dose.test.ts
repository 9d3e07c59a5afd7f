import { currentPolicy } from "../../src/programme/policy.js";
import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import { CHECK_WATER } from "../../src/water/kinds.js";
import { dailyNeed } from "../../src/water/need.js";
import { onEachDatabase } from "../support/stores.js";
import { newWorld, type World } from "../support/world.js";
import { aHousehold, type Facts, factsOf } from "./water-world.js";

onEachDatabase("a household whose water takes more than its protocol's dose", (kind) => {
	let world: World;
	let facts: Facts;
	beforeEach(async () => {
		world = await newWorld(kind);
		await aHousehold(world);
		facts = factsOf(world);
	});
	afterEach(() => world.remove());

	const rules = (water: object) =>
		world.store.work.run((tx) =>
			tx.query(
				"INSERT INTO programme (id, name, policy, changed_at_ms) VALUES ('programme', 'Invented programme', $1, 0) ON CONFLICT (id) DO UPDATE SET policy = excluded.policy",
				[JSON.stringify({ water })],
			),
		);
	const OWN_DOSE = { ownDose: { toleratedChance: 0.05, mostTimes: 2, leastReadings: 2 } };
	/** A fill of 20 L with the label's 7.5 mL, read six hours later. */
	const filledAndRead = async (mgPerL: number) => {
		await facts.dose(7.5, { into: "new water" });
		world.clock.advance(6 * HOUR_MS);
		await facts.read(mgPerL);
		world.clock.advance(2 * DAY_MS);
	};
	const told = async () =>
		(await world.messages())
			.filter(({ text }) => text === "household.dose")
			.map(({ recipientId, fill }) => ({ recipientId, ...(JSON.parse(fill) as { household: string; times: number }) }));
	const kept = () => world.store.query("SELECT household_id, clear_times, cloudy_times FROM household_dose");
	const needed = async () => {
		const policy = await currentPolicy(world.store);
		return (await dailyNeed(world.store, ["vol"], world.clock.nowMs(), policy)).get("vol")?.chlorineGramsPerDay ?? 0;
	};

	it("is told its own dose once two readings have found nothing left, its volunteer needs more bleach, and the ledger says why", async () => {
		await rules(OWN_DOSE);
		const before = await needed();
		await filledAndRead(0);
		expect(await told()).toEqual([]);
		await filledAndRead(0);
		const [first] = await told();
		expect(first).toMatchObject({ recipientId: "vol", household: "H1" });
		expect(first?.times).toBeGreaterThan(1);
		expect(first?.times).toBeLessThanOrEqual(2);
		expect(await kept()).toEqual([{ householdId: "h1", clearTimes: first?.times, cloudyTimes: 1 }]);
		expect((await needed()) / before).toBeCloseTo(first?.times as number, 6);
		const [entry] = await world.store.query<{ detail: string }>(
			"SELECT detail FROM ledger_entry WHERE action = 'household''s own dose set'",
		);
		expect(JSON.parse(entry?.detail ?? "{}")).toMatchObject({ turbidity: "clear", times: first?.times, readings: 2 });
	});

	it("gives its protocol's dose again once so many readings have found enough that more isn't needed", async () => {
		await rules(OWN_DOSE);
		for (let n = 0; n < 6; n++) await filledAndRead(1.2);
		expect((await told()).at(-1)?.times ?? 1).toBe(1);
		expect((await kept())[0]?.["clearTimes"] ?? 1).toBe(1);
	});

	it("is found in weeks where a programme reads new households every week: the first two readings come within seven days, then its turn in 28", async () => {
		await rules({ checkIntervalDays: 28, firstReadings: { count: 2, everyDays: 7 } });
		const days = async () => ((await facts.dueAtMs(CHECK_WATER)) as number) / DAY_MS - world.clock.nowMs() / DAY_MS;
		await facts.dose(7.5, { into: "new water" });
		world.clock.advance(6 * HOUR_MS);
		await facts.read(1.2);
		expect(await days()).toBeLessThanOrEqual(7);
		await facts.emptied();
		world.clock.moveTo((await facts.dueAtMs(CHECK_WATER)) as number);
		await world.sweep.openDue();
		expect(JSON.parse((await facts.open())[0]?.brief ?? "{}")).toMatchObject({ reason: "turn", intervalDays: 7 });
		await facts.dose(7.5, { into: "new water" });
		world.clock.advance(6 * HOUR_MS);
		await facts.read(1.2);
		expect(await days()).toBeGreaterThan(7);
		expect(await days()).toBeLessThanOrEqual(28);
	});

	it("gives its protocol's dose, whatever it reads, where the programme hasn't chosen otherwise", async () => {
		for (let n = 0; n < 3; n++) await filledAndRead(0);
		expect(await kept()).toEqual([]);
	});
});
