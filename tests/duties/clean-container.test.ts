import { policyFrom } from "../../src/programme/policy.js";
import { DAY_MS, HOUR_MS, MINUTE_MS } from "../../src/time/clock.js";
import { nextCleaningMs } from "../../src/water/cleanings.js";
import { planContainers } from "../../src/water/first-plan.js";
import { CLEAN_CONTAINER } from "../../src/water/kinds.js";
import { onEachDatabase } from "../support/stores.js";
import { newWorld, START_MS, type World } from "../support/world.js";
import { aHousehold, type Facts, factsOf } from "./water-world.js";

const policy = policyFrom({});

describe("a container's next cleaning", () => {
	// Common practice, no source: weekly; the programme's default for cloudy water is four days.
	it.each([
		["clear", 7],
		["cloudy", 4],
		["very turbid", 4],
	] as const)("with %s water is due after %d days", (turbidity, days) => {
		expect(nextCleaningMs({ turbidity, habits: {} }, START_MS, policy)).toBe(START_MS + days * DAY_MS);
	});

	it("comes sooner when the season turned cloudy in between: 3 of 7 clear days leave 4/7 of 4 cloudy ones, 5.3 days in all", () => {
		// Computed independently: 3/7 + x/4 = 1, x = 16/7 days.
		const cleanedAtMs = Date.UTC(2026, 9, 29);
		const habits = { seasonFromMonth: 11, seasonUntilMonth: 12, seasonTurbidity: "cloudy" } as const;
		const days = (nextCleaningMs({ turbidity: "clear", habits }, cleanedAtMs, policy) - cleanedAtMs) / DAY_MS;
		expect(days).toBeCloseTo(3 + 16 / 7, 3);
	});
});

onEachDatabase("a container that is to be cleaned", (kind) => {
	let world: World;
	let facts: Facts;
	beforeEach(async () => {
		world = await newWorld(kind);
		await aHousehold(world);
		facts = factsOf(world);
	});
	afterEach(() => world.remove());

	const asked = async () => (await facts.open()).filter((task) => task.kind === CLEAN_CONTAINER);
	const later = async (ms: number) => {
		world.clock.advance(ms);
		await world.sweep.openDue();
		await world.escalation.climb();
	};

	it("is asked about seven days after it was cleaned, with measured amounts, and done by a word", async () => {
		await facts.clean();
		await later(7 * DAY_MS - 1);
		expect(await asked()).toEqual([]);
		await later(1);
		const [task] = await asked();
		expect(task).toMatchObject({ kind: CLEAN_CONTAINER, subjectId: "c1", assigneeId: "vol" });
		const brief = JSON.parse(task?.brief ?? "{}");
		const { why, steps } = world.kinds.named(CLEAN_CONTAINER).instructions({ ...brief, code: task?.code });
		expect(why).toBe("C1 of household H1 was cleaned 7 days ago; with clear water it is cleaned once in 7 days.");
		// 0.5 g/L x 1 L / 4.3 g/L at the weak end is about 115 mL, rounded up to 5 mL: 0.05 % for utensils (WHO, CDC).
		expect(brief.bleachMl).toBeGreaterThanOrEqual(100);
		expect(brief.bleachMl).toBeLessThan(160);
		expect(steps.join(" ")).toContain(`Make ${brief.bleachMl} mL of bleach up to 1 L`);
		expect(await facts.text(`${task?.code} done`)).toMatchObject({ outcome: "accepted" });
		expect(await facts.last()).toMatchObject({ text: "clean.told", fill: { container: "C1", nextCleanOn: "2026-03-17" } });
		expect(await facts.dueAtMs(CLEAN_CONTAINER)).toBe(world.clock.nowMs() + 7 * DAY_MS);
		expect(await world.store.query("SELECT cleaner_id FROM container_cleaning ORDER BY id")).toEqual([
			{ cleanerId: null },
			{ cleanerId: "vol" },
		]);
		expect(await world.store.query("SELECT last_cleaned_on FROM container")).toEqual([{ lastCleanedOn: "2026-03-10" }]);
	});

	it("is asked about a day after a check that found its water unfit, and says why", async () => {
		await facts.clean();
		await facts.dose();
		await later(30 * MINUTE_MS);
		await facts.read(6);
		await later(DAY_MS);
		const task = (await asked())[0];
		expect(JSON.parse(task?.brief ?? "{}")).toMatchObject({ reason: "failed" });
	});

	it("isn't asked about any more once the office notes the cleaning, and a cleaning of long ago leaves it asked", async () => {
		await facts.clean();
		await later(8 * DAY_MS);
		expect(await asked()).toHaveLength(1);
		await facts.clean({ atMs: START_MS - DAY_MS });
		expect(await asked()).toHaveLength(1);
		await facts.clean({ by: "sup" });
		expect(await asked()).toEqual([]);
		const states = (await world.tasks()).filter((task) => task.kind === CLEAN_CONTAINER).map(({ state }) => state);
		expect(states).toEqual(["withdrawn"]);
		await expect(facts.clean()).rejects.toMatchObject({ code: "conflict" });
		await expect(facts.clean({ atMs: world.clock.nowMs() + 1 })).rejects.toMatchObject({ code: "time-in-future" });
	});

	it("that she can't clean is asked about again a day later, and her supervisor is told; a number is asked back", async () => {
		await facts.clean();
		await later(7 * DAY_MS);
		const code = (await asked())[0]?.code;
		expect(await facts.text(`${code} 3`)).toMatchObject({ outcome: "refused" });
		await facts.text(`${code} can't`);
		expect((await facts.told()).slice(-2)).toEqual([
			["reply.cannot", "vol"],
			["clean.cannot.supervisor", "sup"],
		]);
		expect(await facts.dueAtMs(CLEAN_CONTAINER)).toBe(world.clock.nowMs() + DAY_MS);
	});

	it("isn't asked about on one day with 100 others that came in with no cleaning known: they are shared out over the week", async () => {
		await world.store.work.run(async (tx) => {
			for (let n = 0; n < 100; n++) {
				const id = `x${String(n).padStart(3, "0")}`;
				await tx.query(
					"INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity) VALUES ($1, $1, 'area', 'vol', 5, 'well', 'clear')",
					[id],
				);
				await tx.query("INSERT INTO container (id, code, household_id, volume_l, kind) VALUES ($1, $1, $1, 20, 'tap')", [id]);
			}
			const ids = (await tx.query<{ id: string }>("SELECT id FROM container ORDER BY id")).map(({ id }) => id);
			await planContainers(tx, ids, policy, world.clock.nowMs());
		});
		const due = await world.store.query<{ dueAtMs: number }>("SELECT due_at_ms FROM due WHERE kind = $1", [CLEAN_CONTAINER]);
		const days = new Map<number, number>();
		for (const { dueAtMs } of due)
			days.set(
				Math.floor((dueAtMs - START_MS + 8 * HOUR_MS) / DAY_MS),
				(days.get(Math.floor((dueAtMs - START_MS + 8 * HOUR_MS) / DAY_MS)) ?? 0) + 1,
			);
		expect(due).toHaveLength(101);
		expect(Math.max(...days.values())).toBeLessThanOrEqual(16);
	});
});
