import { pino } from "pino";
import { FollowUp } from "../../src/audit/incidents/follow-up.js";
import { Incidents } from "../../src/audit/incidents/incidents.js";
import { IncidentTelling } from "../../src/audit/incidents/telling.js";
import { type Line, TimeLine } from "../../src/audit/incidents/time-line.js";
import { Dispatcher } from "../../src/messages/dispatcher.js";
import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import { aHousehold, type Facts, factsOf } from "../duties/water-world.js";
import { accepted, refusedForGood, TestNotifier } from "../support/notifiers.js";
import { onEachDatabase } from "../support/stores.js";
import { newWorld, type World } from "../support/world.js";

interface Row {
	readonly id: string;
	readonly kind: string;
	readonly causeId: string;
	readonly subjectId: string;
	readonly areaId: string;
	readonly state: string;
	readonly found: string;
	readonly happenedAtMs: number;
	readonly openedAtMs: number;
	readonly closedBecause: string | null;
}

onEachDatabase("an incident", (kind) => {
	let world: World;
	let water: Facts;
	let refuses: boolean;

	beforeEach(async () => {
		world = await newWorld(kind);
		await aHousehold(world);
		water = factsOf(world);
		refuses = false;
		// The first look says from when on records are looked through.
		await world.the(Incidents).look();
	});
	afterEach(() => world.remove());

	const rows = (of?: string) =>
		world.store.query<Row>(`SELECT * FROM incident ${of ? "WHERE kind = $1" : ""} ORDER BY opened_at_ms, id`, of ? [of] : []);
	const lineOf = async (row: Row): Promise<Line[]> => {
		const of = world.the(Incidents).named(row.kind);
		if (!of) throw new Error("no such kind");
		return world.the(TimeLine).of(of, { ...row, found: JSON.parse(row.found) });
	};
	const send = async () => {
		const { store, clock, randomness, ids } = world;
		const notifiers = new Map([["sms", new TestNotifier("sms", () => (refuses ? refusedForGood() : accepted()))]]);
		const one = new Dispatcher(
			{ store, clock, randomness, ids, notifiers, log: pino({ level: "silent" }) },
			{ leaseMs: 60_000, sendTimeoutMs: 10_000, sendTries: 3, sendConcurrency: 4 },
		);
		while ((await one.dispatchReady()) > 0);
	};
	const test = (reading: string) =>
		world.readings.record("B1", {
			testedAtMs: world.clock.nowMs(),
			kit: "comparator 0-5",
			sampleMl: 1,
			madeUpToL: 1,
			reading,
			testerId: "vol",
		});

	it("of water from a weak jar tells who could drink it and when, what was found, who was told and when, and how it ended", async () => {
		const dosedAtMs = world.clock.nowMs();
		await water.dose();
		world.clock.advance(26 * HOUR_MS);
		const readAtMs = world.clock.nowMs();
		await water.read(0.1);
		await send();
		expect(await world.the(Incidents).look()).toBe(1);
		const [unfit] = await rows("unfit water given out");
		expect(unfit).toMatchObject({ subjectId: "c1", areaId: "area", state: "open", happenedAtMs: dosedAtMs });
		expect(JSON.parse(unfit?.found ?? "{}")).toEqual({
			about: "C1",
			household: "H1",
			persons: 5,
			freeChlorineMgPerL: 0.1,
			jar: "B1",
			foundAtMs: readAtMs,
		});
		// Looked at again, and read again, it is still one.
		world.clock.advance(HOUR_MS);
		await water.read(0.1);
		expect(await world.the(Incidents).look()).toBe(0);
		expect(await rows()).toHaveLength(1);

		await test("2");
		await world.the(Incidents).look();
		const [weak] = await rows("weak bleach used");
		expect(JSON.parse(weak?.found ?? "{}")).toMatchObject({ about: "B1", doses: 1, limitGPerL: 3.5 });

		await world.the(FollowUp).lookInto(unfit?.id ?? "", "sup");
		world.clock.advance(HOUR_MS);
		await water.dose(12);
		world.clock.advance(HOUR_MS);
		await water.read(0.6);
		await world.the(Incidents).look();
		const [closed] = await rows("unfit water given out");
		expect(closed).toMatchObject({ state: "closed", closedBecause: "a later reading was fit to drink" });

		const lines = await lineOf(closed as Row);
		const at = (what: string) => lines.filter((line) => line.what === what);
		expect(at("water dosed")[0]).toMatchObject({
			atMs: dosedAtMs,
			detail: { container: "C1", household: "H1", persons: 5, jar: "B1" },
		});
		expect(at("water read, not fit to drink")[0]).toMatchObject({ atMs: readAtMs, detail: { freeChlorineMgPerL: 0.1 } });
		const told = at("told").filter(({ atMs }) => atMs === readAtMs);
		expect(told.map(({ detail }) => detail["role"])).toContain("volunteer");
		expect(at("incident looked into")[0]?.detail).toMatchObject({ by: "sup" });
		expect(at("incident closed")).toHaveLength(1);
		expect(at("water read, fit to drink")).toHaveLength(1);
		expect(lines.map(({ atMs }) => atMs)).toEqual(lines.map(({ atMs }) => atMs).toSorted((a, b) => a - b));
		// The jar's own names the household that drank from it, too.
		const jar = await lineOf(weak as Row);
		expect(jar.filter(({ what }) => what === "jar tested").length).toBe(1);
		expect(jar.find(({ what }) => what === "water dosed")?.detail).toMatchObject({ household: "H1" });
		const steps = await world.store.query<{ action: string }>(
			"SELECT action FROM ledger_entry WHERE subject_kind = 'incident' AND subject_id = $1 ORDER BY id",
			[closed?.id],
		);
		expect(steps.map(({ action }) => action)).toEqual(["incident opened", "incident looked into", "incident closed"]);
	});

	it("isn't opened by a reading within 2 h of the dose, which is a step of making the water, nor by fit water", async () => {
		await water.dose();
		world.clock.advance(HOUR_MS);
		await water.read(0.1);
		await water.emptied();
		await water.dose(12);
		world.clock.advance(26 * HOUR_MS);
		await water.read(0.6);
		expect(await world.the(Incidents).look()).toBe(0);
	});

	it("of a jar under strength isn't opened where nobody dosed from it since it was last strong enough", async () => {
		await water.dose();
		world.clock.advance(HOUR_MS);
		await test("4");
		world.clock.advance(DAY_MS);
		await test("2");
		await world.the(Incidents).look();
		expect(await rows("weak bleach used")).toEqual([]);
	});

	it("of a task that nobody answers is opened after 7 days, once, names whom it was asked of, and closes when it is answered", async () => {
		await world.live(10);
		const asked = (await world.tasks()).filter(({ state }) => state === "open");
		for (let day = 0; day < 9; day++) {
			world.clock.advance(DAY_MS);
			await world.the(Incidents).look();
		}
		const unanswered = await rows("task never answered");
		expect(unanswered.map(({ subjectId }) => subjectId).sort()).toEqual(asked.map(({ id }) => id).sort());
		const [first] = unanswered;
		const opened = (await lineOf(first as Row)).find(({ what }) => what === "task opened");
		expect(opened?.detail).toMatchObject({ assignee: "vol" });
		expect((first?.openedAtMs ?? 0) - (opened?.atMs ?? 0)).toBeLessThan(8 * DAY_MS);
		await world.answers.take(first?.subjectId ?? "", { kind: "cannot" }, "vol");
		await world.the(Incidents).look();
		expect((await rows("task never answered")).find(({ id }) => id === first?.id)).toMatchObject({
			state: "closed",
			closedBecause: "the task is cannot",
		});
	});

	it("of a person whom no channel reaches is one however many messages fail, closes when one is taken, and comes anew after that", async () => {
		const put = (id: string) =>
			world.store.work.run((tx) =>
				tx.query(
					`INSERT INTO message (id, idempotency_key, recipient_id, text, fill, urgent, state, created_at_ms, ready_at_ms, next_try_at_ms, claim, tries)
					 VALUES ($1, $1, 'vol', 'jar.setAside', '{"jar":"B1"}', $2, 'waiting', $3, $3, $3, 0, 0)`,
					[id, false, world.clock.nowMs()],
				),
			);
		const round = async (id: string, isRefused: boolean) => {
			world.clock.advance(HOUR_MS);
			refuses = isRefused;
			await put(id);
			await send();
			await world.the(Incidents).look();
			return (await rows("messages not delivered")).map(({ state }) => state);
		};
		expect(await round("one", true)).toEqual(["open"]);
		expect(await round("two", true)).toEqual(["open"]);
		const [row] = await rows("messages not delivered");
		expect((await lineOf(row as Row)).filter(({ what }) => what === "try failed").map(({ detail }) => detail["reason"])).toEqual([
			"no such number",
			"no such number",
		]);
		expect(await round("three", false)).toEqual(["closed"]);
		expect(await round("four", true)).toEqual(["closed", "open"]);
	});

	it("of a generator is opened when it has been out for a day, and closes when it works again", async () => {
		const nowMs = world.clock.nowMs();
		await world.store.work.run(async (tx) => {
			await tx.query(
				`INSERT INTO generator (id, code, name, area_id, rated_current_a, cells_in_series, current_efficiency, batch_volume_l, salt_g_per_l, in_service)
				 VALUES ('g1', 'G1', 'Invented', 'area', 5, 1, 0.6, 5, 30, $1)`,
				[true],
			);
			await tx.query(
				"INSERT INTO generator_outage (id, generator_id, from_ms, reason, recorded_at_ms) VALUES ('o1', 'g1', $1, 'no sun', $1)",
				[nowMs],
			);
		});
		world.clock.advance(23 * HOUR_MS);
		expect(await world.the(Incidents).look()).toBe(0);
		world.clock.advance(HOUR_MS);
		expect(await world.the(Incidents).look()).toBe(1);
		expect(await world.the(Incidents).look()).toBe(0);
		world.clock.advance(HOUR_MS);
		await world.store.work.run((tx) =>
			tx.affected("UPDATE generator_outage SET until_ms = $1 WHERE id = 'o1'", [world.clock.nowMs()]),
		);
		await world.the(Incidents).look();
		const [row] = await rows("generator out");
		expect(row).toMatchObject({ state: "closed", closedBecause: "the generator works again" });
		expect((await lineOf(row as Row)).map(({ what }) => what)).toEqual([
			"generator out",
			"incident opened",
			"generator works again",
			"incident closed",
		]);
	});

	it("is named to the area's supervisor once a day with what else is new, and not twice", async () => {
		await water.dose();
		world.clock.advance(26 * HOUR_MS);
		await water.read(0.1);
		await world.the(Incidents).look();
		expect(await world.the(IncidentTelling).tell()).toBe(1);
		expect(await world.the(IncidentTelling).tell()).toBe(0);
		const told = (await world.messages()).filter(({ text }) => text === "incident.new.supervisor");
		expect(told.map(({ recipientId, fill }) => [recipientId, JSON.parse(fill)])).toEqual([
			["sup", { count: 1, lines: "water not fit in C1" }],
		]);
		// 08:00 of the next morning in Nairobi.
		expect((told[0]?.nextTryAtMs ?? 0) % DAY_MS).toBe(5 * HOUR_MS);
	});

	it("that is closed can't be closed again or looked into, and one that there isn't is said not to be", async () => {
		await water.dose();
		world.clock.advance(26 * HOUR_MS);
		await water.read(0.1);
		await world.the(Incidents).look();
		const [row] = await rows();
		const followUp = world.the(FollowUp);
		await followUp.close(row?.id ?? "", "the family was visited, nobody fell ill", "sup");
		expect((await rows())[0]).toMatchObject({ state: "closed", closedBecause: "the family was visited, nobody fell ill" });
		await expect(followUp.close(row?.id ?? "", "again", "sup")).rejects.toMatchObject({ code: "conflict" });
		await expect(followUp.lookInto(row?.id ?? "", "sup")).rejects.toMatchObject({ code: "conflict" });
		await expect(followUp.close("nothing", "again", "sup")).rejects.toMatchObject({ code: "unknown-subject" });
	});

	it("is followed up by one at a time: whoever read it before a step of another is told so, and nothing of hers is kept", async () => {
		await water.dose();
		world.clock.advance(26 * HOUR_MS);
		await water.read(0.1);
		await world.the(Incidents).look();
		const [{ id } = { id: "" }] = await rows();
		const followUp = world.the(FollowUp);
		const read = await followUp.tagOf(id);
		await followUp.lookInto(id, "sup", read);
		// Sent twice by herself it changes nothing, and is no conflict.
		await followUp.lookInto(id, "sup", read);
		await expect(followUp.note(id, "the filter had a crack", "vol", read)).rejects.toMatchObject({
			code: "conflict",
			status: 412,
		});
		await expect(followUp.close(id, "somebody else saw to it", "vol", read)).rejects.toMatchObject({ status: 412 });
		await followUp.note(id, "the filter had a crack", "sup", await followUp.tagOf(id));
		const steps = await world.store.query<{ action: string; actor: string; detail: string }>(
			"SELECT action, actor, detail FROM ledger_entry WHERE subject_kind = 'incident' AND subject_id = $1 ORDER BY id",
			[id],
		);
		expect(steps.map(({ action, actor }) => [action, actor])).toEqual([
			["incident opened", "audit"],
			["incident looked into", "sup"],
			["incident noted", "sup"],
		]);
		expect(JSON.parse(steps[2]!.detail)).toEqual({ note: "the filter had a crack" });
		expect((await rows())[0]?.state).toBe("looked into");
	});

	it("is opened once by two schedulers that look at the same moment", async () => {
		await water.dose();
		world.clock.advance(26 * HOUR_MS);
		await water.read(0.1);
		const opened = await Promise.all([world.the(Incidents).look(), world.the(Incidents).look()]);
		expect(opened.sort()).toEqual([0, 1]);
		expect(await rows()).toHaveLength(1);
	});
});
