import { Proposals } from "../../src/assignment/proposals.js";
import { AbsenceDays } from "../../src/duties/absence-days.js";
import { HandOvers } from "../../src/duties/hand-overs.js";
import { Scheduler } from "../../src/duties/scheduler.js";
import { CARE } from "../../src/generators/due-kinds.js";
import { DAY_MS } from "../../src/time/clock.js";
import { inventedDistrict, write } from "../support/invented-district.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, settle, type World } from "../support/world.js";

onEachDatabase("an absence that was agreed on before", (kind) => {
	let world: World;
	let handOvers: HandOvers;
	let days: AbsenceDays;
	beforeEach(async () => {
		world = await newWorld(kind);
		await settle(world);
		handOvers = world.the(HandOvers);
		days = world.the(AbsenceDays);
	});
	afterEach(() => world.remove());

	/** Volunteer 1 with four households, a jar, a generator and an open task about it. */
	async function atWork(timeZone = "Africa/Nairobi") {
		const district = await inventedDistrict(world, "A");
		await write(world, "UPDATE area SET time_zone = $1 WHERE id = 'A'", [timeZone]);
		const [v1 = "", v2 = "", v3 = ""] = district.volunteers;
		await write(world, "UPDATE household SET volunteer_id = $1 WHERE code LIKE 'A-h1%'", [v1]);
		const jar = await aBatch(world, "A-jar", { areaCode: "A", keeperCode: v1 });
		await write(
			world,
			`INSERT INTO generator (id, code, name, area_id, rated_current_a, cells_in_series, current_efficiency, batch_volume_l, salt_g_per_l, in_service, operator_id)
			 VALUES ('gen', 'GEN', 'Invented cell', 'A', 5, 1, 0.6, 20, 30, $1, $2)`,
			[true, v1],
		);
		await write(
			world,
			`INSERT INTO task (id, code, kind, subject_id, cycle, area_id, assignee_id, state, opened_at_ms, due_at_ms, brief, ladder_step)
			 VALUES ('care', 'CARE1', $1, 'gen', 1, 'A', $2, 'open', $3, $3, '{"generator":"GEN","inspect":"no","descale":"no"}', 0)`,
			[CARE, v1, world.clock.nowMs()],
		);
		return { ...district, v1, v2, v3, jar };
	}
	const holders = async () => {
		const [row] = await world.store.query<Record<string, string | null>>(
			`SELECT (SELECT MIN(volunteer_id) FROM household WHERE code LIKE 'A-h1%') AS first_home, (SELECT MAX(volunteer_id) FROM household WHERE code LIKE 'A-h1%') AS last_home,
			 (SELECT keeper_id FROM batch WHERE code = 'A-jar') AS jar, (SELECT operator_id FROM generator WHERE id = 'gen') AS generator,
			 (SELECT assignee_id FROM task WHERE id = 'care') AS task`,
		);
		return [...new Set(Object.values(row!))];
	};
	const isActive = async (person: string) => {
		const [row] = await world.store.query<{ active: boolean | number }>("SELECT active FROM person WHERE id = $1", [person]);
		return Boolean(row?.active);
	};
	const told = async (person: string) =>
		(
			await world.store.query<{ text: string; fill: string }>(
				"SELECT text, fill FROM message WHERE recipient_id = $1 ORDER BY id",
				[person],
			)
		).map(({ text, fill }) => ({ text, fill: JSON.parse(fill) as Record<string, unknown> }));
	const actions = async (person: string) =>
		(
			await world.store.query<{ action: string }>(
				"SELECT action FROM ledger_entry WHERE subject_kind = 'person' AND subject_id = $1 ORDER BY id",
				[person],
			)
		).map(({ action }) => action);
	const clockAt = (iso: string) => world.clock.advance(Date.parse(iso) - world.clock.nowMs());

	it("hands everything to the named person when its day begins, and not before: generators too, and both are told", async () => {
		const { v1, v2 } = await atWork();
		const { plannedFor, handedOver } = await handOvers.leave(v1, {
			...{ reason: "on leave", fromOn: "2026-03-05", untilOn: "2026-03-06", toCode: v2 },
		});
		expect([plannedFor, handedOver.households]).toEqual(["2026-03-05", 0]);
		clockAt("2026-03-05T00:00:00+03:00");
		world.clock.advance(-1);
		expect([await days.pass(), await holders(), await isActive(v1)]).toEqual([0, [v1], true]);
		world.clock.advance(1);
		expect([await days.pass(), await holders(), await isActive(v1)]).toEqual([1, [v2], false]);
		expect(await days.pass()).toBe(0);
		const counts = { households: 4, jars: 1, generators: 1, tasks: 1 };
		expect((await told(v2)).find(({ text }) => text === "work.takenAll")?.fill).toEqual({ ...counts, name: `Invented ${v1}` });
		expect((await told(v1)).find(({ text }) => text === "work.givenAll")?.fill).toEqual({ ...counts, name: `Invented ${v2}` });
		expect(await actions(v1)).toEqual(["will be away", "is away"]);
	});

	it("ends by itself after its last day: what is still with the others is hers again, and both are told", async () => {
		const { v1, v2 } = await atWork();
		await handOvers.leave(v1, { reason: "on leave", fromOn: "2026-03-05", untilOn: "2026-03-06", toCode: v2 });
		clockAt("2026-03-05T00:00:00+03:00");
		await days.pass();
		clockAt("2026-03-06T23:59:59+03:00");
		expect([await days.pass(), await holders()]).toEqual([0, [v2]]);
		clockAt("2026-03-07T00:00:00+03:00");
		expect([await days.pass(), await holders(), await isActive(v1)]).toEqual([1, [v1], true]);
		const counts = { households: 4, jars: 1, generators: 1, tasks: 1 };
		expect((await told(v1)).at(-1)).toEqual({ text: "work.takenAll", fill: { ...counts, name: `Invented ${v2}` } });
		expect((await told(v2)).at(-1)).toEqual({ text: "work.givenAll", fill: { ...counts, name: `Invented ${v1}` } });
		expect(await actions(v1)).toEqual(["will be away", "is away", "came back"]);
		expect(await days.pass()).toBe(0);
	});

	it("begins with the day of her own area: on Kiritimati 11 hours before Nairobi, in Honolulu 13 after it", async () => {
		const { v1, v2 } = await atWork("Pacific/Kiritimati");
		await handOvers.leave(v1, { reason: "ill", fromOn: "2026-03-05", toCode: v2 });
		// Source: IANA time zone database: Kiritimati is UTC+14, Nairobi UTC+3, Honolulu UTC-10.
		clockAt("2026-03-04T10:00:00Z");
		expect(await days.pass()).toBe(1);
		await handOvers.comeBack(v1, true);
		await write(world, "UPDATE area SET time_zone = 'Pacific/Honolulu' WHERE id = 'A'");
		await handOvers.leave(v1, { reason: "ill", fromOn: "2026-03-06", toCode: v2 });
		clockAt("2026-03-06T09:59:59Z");
		expect(await days.pass()).toBe(0);
		clockAt("2026-03-06T10:00:00Z");
		expect(await days.pass()).toBe(1);
	});

	it("waits for the day where the area's clock was put back meanwhile", async () => {
		const { v1, v2 } = await atWork("Pacific/Kiritimati");
		await handOvers.leave(v1, { reason: "ill", fromOn: "2026-03-05", toCode: v2 });
		await write(world, "UPDATE area SET time_zone = 'Africa/Nairobi' WHERE id = 'A'");
		clockAt("2026-03-04T10:00:00Z");
		expect([await days.pass(), await isActive(v1)]).toEqual([0, true]);
		clockAt("2026-03-04T21:00:00Z");
		expect([await days.pass(), await isActive(v1)]).toEqual([1, false]);
	});

	it("is proposed where nobody is named, her supervisor is told, and on accepting generators go along", async () => {
		const { v1, v2, supervisor } = await atWork();
		await handOvers.leave(v1, { reason: "on leave", fromOn: "2026-03-04" });
		clockAt("2026-03-04T06:00:00+03:00");
		expect([await days.pass(), await isActive(v1), await holders()]).toEqual([1, false, [v1]]);
		expect(await told(supervisor)).toEqual([
			{ text: "absence.supervisor", fill: { name: `Invented ${v1}`, households: 4, proposed: "yes" } },
		]);
		const [{ id } = { id: "" }] = await world.store.query<{ id: string }>("SELECT id FROM assignment_proposal");
		const proposals = world.the(Proposals);
		for (;;) {
			if ((await proposals.named(id)).state !== "solving") break;
			await new Promise((resolve) => setTimeout(resolve, 50));
		}
		const { version } = await proposals.named(id);
		const { handedOver } = await handOvers.accept(id, String(version), supervisor);
		expect(handedOver).toEqual({ households: 4, jars: 1, generators: 1, tasks: 1 });
		expect(await holders()).toEqual([v2]);
		expect(await handOvers.comeBack(v1, true)).toEqual({ households: 4, jars: 1, generators: 1, tasks: 1 });
		expect(await holders()).toEqual([v1]);
	});

	it.each([
		["is away herself on the day", (v2: string) => handOvers.leave(v2, { reason: "ill" })],
		[
			"has no room on the day",
			(v2: string) => write(world, "UPDATE volunteer_capacity SET most_households = 3 WHERE person_id = $1", [v2]),
		],
	])("is proposed where the named person %s", async (_, meanwhile) => {
		const { v1, v2, supervisor } = await atWork();
		await handOvers.leave(v1, { reason: "on leave", fromOn: "2026-03-04", toCode: v2 });
		await meanwhile(v2);
		clockAt("2026-03-04T06:00:00+03:00");
		expect([await days.pass(), await isActive(v1), await holders()]).toEqual([1, false, [v1]]);
		expect(await actions(v1)).toEqual(["will be away", "is away", "can't be handed over as planned"]);
		expect((await told(supervisor)).at(-1)).toMatchObject({ text: "absence.supervisor", fill: { proposed: "yes" } });
	});

	it("can be taken back before it begins, and changed: the last word holds", async () => {
		const { v1, v2, v3 } = await atWork();
		await handOvers.leave(v1, { reason: "on leave", fromOn: "2026-03-04", toCode: v2 });
		await handOvers.comeBack(v1, true);
		clockAt("2026-03-04T06:00:00+03:00");
		expect([await days.pass(), await holders()]).toEqual([0, [v1]]);
		expect(await actions(v1)).toEqual(["will be away", "won't be away"]);
		await handOvers.leave(v1, { reason: "on leave", fromOn: "2026-03-05", toCode: v2 });
		await handOvers.leave(v1, { reason: "on leave", fromOn: "2026-03-06", toCode: v3 });
		clockAt("2026-03-05T06:00:00+03:00");
		expect(await days.pass()).toBe(0);
		clockAt("2026-03-06T06:00:00+03:00");
		expect([await days.pass(), await holders()]).toEqual([1, [v3]]);
	});

	it("doesn't come back who has left for good, nor who is ill until nobody knows when", async () => {
		const { v1, v2, v3 } = await atWork();
		await handOvers.leave(v1, { reason: "left", untilOn: "2026-03-04", toCode: v2 });
		await handOvers.leave(v3, { reason: "ill", toCode: v2 });
		world.clock.advance(400 * DAY_MS);
		expect([await days.pass(), await isActive(v1), await isActive(v3)]).toEqual([0, false, false]);
		expect(await holders()).toEqual([v2]);
	});

	it("is over where nothing ran on any of its days: nothing is handed over, and she is at work", async () => {
		const { v1, v2 } = await atWork();
		await handOvers.leave(v1, { reason: "on leave", fromOn: "2026-03-05", untilOn: "2026-03-06", toCode: v2 });
		clockAt("2026-03-09T08:00:00+03:00");
		expect([await days.pass(), await holders(), await isActive(v1)]).toEqual([1, [v1], true]);
		expect(await actions(v1)).toEqual(["will be away", "was away, nothing handed over"]);
	});

	it("is carried out once by two schedulers at the same moment", async () => {
		const { v1, v2 } = await atWork();
		await handOvers.leave(v1, { reason: "on leave", fromOn: "2026-03-05", untilOn: "2026-03-06", toCode: v2 });
		clockAt("2026-03-05T08:00:00+03:00");
		const passed = await Promise.all([days.pass(), days.pass(), days.pass()]);
		expect(passed.sort()).toEqual([0, 0, 1]);
		expect((await told(v2)).filter(({ text }) => text === "work.takenAll")).toHaveLength(1);
	});

	it("is part of the scheduler's round, before what falls due is asked", async () => {
		const { v1, v2 } = await atWork();
		await handOvers.leave(v1, { reason: "on leave", fromOn: "2026-03-24", toCode: v2 });
		clockAt("2026-03-24T08:00:00+03:00");
		const scheduler = world.the(Scheduler);
		scheduler.start();
		for (let i = 0; scheduler.sinceLastGoodMs() === undefined; i++) {
			if (i > 600) throw new Error("no round ended");
			await new Promise((resolve) => setTimeout(resolve, 100));
		}
		await scheduler.stop();
		expect(await holders()).toEqual([v2]);
		const [retest] = (await world.tasks()).filter(({ kind: of }) => of === "retest stored bleach");
		expect(retest?.assigneeId).toBe(v2);
	}, 120_000);
});
