import { policyFrom } from "../../src/programme/policy.js";
import { DAY_MS } from "../../src/time/clock.js";
import { localDateOf } from "../../src/time/local.js";
import { plannedChecks } from "../../src/water/check-plan.js";
import { containersKnown } from "../../src/water/containers.js";
import { planContainers } from "../../src/water/first-plan.js";
import { CHECK_WATER } from "../../src/water/kinds.js";
import { visitAfterMs } from "../../src/water/visit-days.js";
import { onEachDatabase } from "../support/stores.js";
import { newWorld, START_MS, settle, type World } from "../support/world.js";

const ZONE = "Africa/Nairobi";
const rhythm = { intervalDays: 14, workingDays: [1, 2, 3, 4, 5], timeZone: ZONE, from: "06:00", place: 0, of: 23 };

describe("a household's turn", () => {
	it("comes once in 14 days, on a working day at the volunteer's hour, whenever one asks", () => {
		for (let place = 0; place < 23; place++) {
			let atMs = START_MS + place * 3_600_000;
			const turns: number[] = [];
			for (let n = 0; n < 6; n++) {
				atMs = visitAfterMs({ ...rhythm, place }, atMs);
				turns.push(atMs);
			}
			for (const [n, turn] of turns.entries()) {
				if (n > 0) expect((turn - (turns[n - 1] as number)) / DAY_MS).toBe(14);
				expect(rhythm.workingDays).toContain(new Date(turn).getUTCDay());
			}
			expect((turns[0] as number) - START_MS).toBeLessThanOrEqual(14 * DAY_MS + place * 3_600_000);
		}
	});

	it("is shared out evenly: of 23 households three or two on each of the ten working days of a fortnight", () => {
		const days = new Map<string, number>();
		for (let place = 0; place < 23; place++) {
			const date = localDateOf(visitAfterMs({ ...rhythm, place }, START_MS), ZONE);
			days.set(date, (days.get(date) ?? 0) + 1);
		}
		expect([...days.values()].sort()).toEqual([2, 2, 2, 2, 2, 2, 2, 3, 3, 3]);
	});

	it.each([1, 3, 7, 20, 30, 90])("within %d days comes never later than that", (intervalDays) => {
		for (let place = 0; place < 11; place++) {
			let atMs = START_MS;
			for (let n = 0; n < 5; n++) {
				const next = visitAfterMs({ ...rhythm, intervalDays, place, of: 11 }, atMs);
				expect(next - atMs).toBeLessThanOrEqual(intervalDays * DAY_MS);
				atMs = next;
			}
		}
	});
});

onEachDatabase("the checks of two intervals after an import of 60 households", (kind) => {
	let world: World;
	beforeAll(async () => {
		world = await newWorld(kind);
		await settle(world);
		await world.store.work.run(async (tx) => {
			for (const [id, working] of [
				["v1", "[1,2,3,4,5]"],
				["v2", "[1,2,3,4,6,7]"],
			])
				await tx.query(
					`INSERT INTO person (id, code, role, name, language, area_id, supervisor_id, working_days, quiet_from, quiet_until, channels, active)
					 VALUES ($1, $1, 'volunteer', '', 'en', 'area', 'sup', $2, '20:00', '06:00', '[]', $3)`,
					[id, working, true],
				);
			for (let n = 0; n < 60; n++) {
				const id = `h${String(n).padStart(3, "0")}`;
				await tx.query(
					"INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity) VALUES ($1, $1, 'area', $2, 5, 'well', 'clear')",
					[id, n % 3 === 0 ? "v2" : "v1"],
				);
				for (const letter of "AB")
					await tx.query("INSERT INTO container (id, code, household_id, volume_l, kind) VALUES ($1, $1, $2, 20, 'tap')", [
						`${id}-${letter}`,
						id,
					]);
			}
			const ids = (await tx.query<{ id: string }>("SELECT id FROM container ORDER BY id")).map(({ id }) => id);
			// A file comes in in pieces.
			for (let from = 0; from < ids.length; from += 25)
				await planContainers(tx, ids.slice(from, from + 25), policyFrom({}), START_MS);
		});
	});
	afterAll(() => world.remove());

	it("see every household once in each of them, in one of its containers, and a volunteer's days differ by one at the most", async () => {
		const answeredAt: { household: string; assignee: string; atMs: number }[] = [];
		for (let hour = 0; hour < 28 * 24; hour += 1) {
			world.clock.advance(3_600_000);
			await world.sweep.openDue();
			const open = (await world.tasks()).filter(({ kind: name, state }) => name === CHECK_WATER && state === "open");
			for (const task of open) {
				const answer = { kind: "reading", reading: "0.5", takenAtMs: world.clock.nowMs() } as const;
				await world.answers.take(task.id, answer, task.assigneeId);
				answeredAt.push({
					household: task.subjectId.slice(0, 4),
					assignee: task.assigneeId as string,
					atMs: world.clock.nowMs(),
				});
			}
		}
		const perHousehold = new Map<string, number>();
		for (const { household } of answeredAt) perHousehold.set(household, (perHousehold.get(household) ?? 0) + 1);
		expect(perHousehold.size).toBe(60);
		expect([...new Set(perHousehold.values())]).toEqual([2]);
		for (const [volunteer, workingDays] of [
			["v1", 20],
			["v2", 24],
		] as const) {
			const days = new Map<string, number>();
			for (const { assignee, atMs } of answeredAt)
				if (assignee === volunteer) days.set(localDateOf(atMs, ZONE), (days.get(localDateOf(atMs, ZONE)) ?? 0) + 1);
			expect(days.size).toBeGreaterThan(workingDays * 0.8);
			expect(Math.max(...days.values()) - Math.min(...days.values())).toBeLessThanOrEqual(1);
		}
	});

	it("don't come back for a household that was read two days before only because its turn has come, and yet within 14 days", async () => {
		const nowMs = world.clock.nowMs();
		await world.store.work.run(async (tx) => {
			const containers = [...(await containersKnown(tx, ["h001-A"])).values()];
			const turn = (await plannedChecks(tx, containers, policyFrom({}), nowMs)).get("h001-A")?.turnAtMs as number;
			await tx.query(
				"INSERT INTO residual_check (id, container_id, checked_at_ms, free_chlorine_mg_per_l) VALUES ('now', 'h001-A', $1, 0.5)",
				[turn - DAY_MS],
			);
			const after = (await plannedChecks(tx, containers, policyFrom({}), turn - DAY_MS)).get("h001-A")?.turnAtMs as number;
			expect(after).toBe(turn - DAY_MS + 14 * DAY_MS);
		});
	});
});
