import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, settle, type World } from "../support/world.js";

onEachDatabase("work that nobody answers", (kind) => {
	let world: World;
	beforeEach(async () => {
		world = await newWorld(kind);
		await settle(world);
		await rules({ ladderAgainDays: 7 });
		await aBatch(world);
	});
	afterEach(() => world.remove());

	const rules = (policy: object) =>
		world.store.work.run((tx) =>
			tx.query(
				"INSERT INTO programme (id, name, policy, changed_at_ms) VALUES ('programme', 'Invented programme', $1, 0) ON CONFLICT (id) DO UPDATE SET policy = excluded.policy",
				[JSON.stringify(policy)],
			),
		);
	const until = async (is: () => Promise<boolean>, mostDays: number) => {
		for (let hours = 0; hours < mostDays * 24; hours += 6) {
			if (await is()) return;
			world.clock.advance(6 * HOUR_MS);
			await world.escalation.climb();
			await world.sweep.openDue();
		}
		throw new Error(`not within ${mostDays} days`);
	};
	const reminders = async () =>
		(await world.messages()).filter(({ text }) => ["retest.again", "retest.supervisor"].includes(text)).map(({ text }) => text);
	/** Messages go out: whoever hasn't been told isn't reminded. */
	const sent = () =>
		world.store.work.run((tx) => tx.affected("UPDATE message SET state = 'sent', next_try_at_ms = NULL WHERE state = 'waiting'"));
	const opened = async () => {
		await until(async () => (await world.tasks()).length > 0, 40);
		await sent();
	};

	it("is asked for anew a week after its ladder's end where the programme says so, with the figures of that day, and isn't opened a second time", async () => {
		await opened();
		const [first] = await world.tasks();
		await until(async () => (await reminders()).length >= 2, 5);
		expect(await reminders()).toEqual(["retest.again", "retest.supervisor"]);
		const endedAtMs = world.clock.nowMs();
		await sent();
		await until(async () => (await reminders()).length >= 4, 12);
		expect((world.clock.nowMs() - endedAtMs) / DAY_MS).toBeGreaterThan(6.5);
		expect(await reminders()).toEqual(["retest.again", "retest.supervisor", "retest.again", "retest.supervisor"]);
		const tasks = await world.tasks();
		expect(tasks.map(({ id, state }) => [id, state])).toEqual([[first?.id, "open"]]);
	});

	it("is withdrawn then where there is nothing left to do, so that its subject can fall due again", async () => {
		await opened();
		await until(async () => (await reminders()).length >= 2, 5);
		await sent();
		// Written past the services, as a fact that no sweep was told of.
		await world.store.work.run((tx) => tx.affected("UPDATE batch SET state = 'discarded'"));
		await until(async () => (await world.tasks())[0]?.state !== "open", 12);
		expect((await world.tasks())[0]?.state).toBe("withdrawn");
		expect(await world.store.query("SELECT cycle FROM due WHERE kind = 'retest stored bleach'")).toEqual([{ cycle: 2 }]);
	});

	it("ends with its ladder where the programme has it so", async () => {
		await rules({ ladderAgainDays: null });
		await opened();
		await until(async () => (await reminders()).length >= 2, 5);
		expect(await world.store.query("SELECT state, next_step_at_ms FROM task")).toEqual([{ state: "open", nextStepAtMs: null }]);
	});
});
