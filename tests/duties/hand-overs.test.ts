import { Assignments } from "../../src/assignment/assignments.js";
import { Proposals } from "../../src/assignment/proposals.js";
import { HandOvers } from "../../src/duties/hand-overs.js";
import { InputError } from "../../src/errors/errors.js";
import { claimReady } from "../../src/messages/claim.js";
import { RETEST } from "../../src/stock/due-work.js";

import { DAY_MS } from "../../src/time/clock.js";
import { inventedDistrict, write } from "../support/invented-district.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, settle, type World } from "../support/world.js";

onEachDatabase("a volunteer who is away", (kind) => {
	let world: World;
	let handOvers: HandOvers;
	beforeAll(async () => {
		world = await newWorld(kind);
		await settle(world);
		handOvers = world.the(HandOvers);
	});
	afterAll(() => world.remove());

	/** Volunteer 1 with her four households, a jar in the first of them, one of her own, and the retests of both open. */
	async function atWork(name: string) {
		const district = await inventedDistrict(world, name);
		const [v1 = "", v2 = "", v3 = ""] = district.volunteers;
		const hers = district.households.slice(0, 4);
		await write(world, `UPDATE household SET volunteer_id = $1 WHERE code LIKE '${name}-h1%'`, [v1]);
		const own = await aBatch(world, `${name}-own`, { areaCode: name, keeperCode: v1 });
		const inHousehold = await aBatch(world, `${name}-in`, { areaCode: name, keeperCode: v1 });
		await write(world, "UPDATE batch SET household_id = $1 WHERE id = $2", [hers[0], inHousehold.id]);
		world.clock.advance(20 * DAY_MS);
		await world.sweep.openDue();
		const tasks = async () =>
			world.store.query<{ code: string; subjectId: string; assigneeId: string; ladderStep: number }>(
				`SELECT code, subject_id, assignee_id, ladder_step FROM task WHERE state = 'open' AND subject_id IN ($1, $2) ORDER BY subject_id`,
				[own.id, inHousehold.id],
			);
		const opened = await tasks();
		expect(opened.map(({ assigneeId }) => assigneeId)).toEqual([v1, v1]);
		return { ...district, v1, v2, v3, hers, own, inHousehold, tasks, codes: opened.map(({ code }) => code) };
	}
	const holders = async (codes: readonly string[]) => {
		const rows = await world.store.query<{ volunteerId: string | null }>(
			`SELECT volunteer_id FROM household WHERE code IN (${codes.map((_, i) => `$${i + 1}`).join(",")}) ORDER BY code`,
			codes,
		);
		return rows.map(({ volunteerId }) => volunteerId);
	};
	const told = async (person: string) =>
		(
			await world.store.query<{ text: string; state: string; fill: string }>(
				"SELECT text, state, fill FROM message WHERE recipient_id = $1 ORDER BY id",
				[person],
			)
		).map(({ text, state, fill }) => ({ text, state, fill: JSON.parse(fill) as Record<string, unknown> }));
	const isActive = async (person: string) => {
		const [row] = await world.store.query<{ active: boolean | number }>("SELECT active FROM person WHERE id = $1", [person]);
		return Boolean(row?.active);
	};
	const refusalOf = async (work: Promise<unknown>) => {
		const error = await work.then(
			() => undefined,
			(thrown: unknown) => thrown,
		);
		if (!(error instanceof InputError)) throw new Error(`wasn't refused: ${String(error)}`);
		return error;
	};

	it("hands households, jars and open tasks to a named person in one step: tasks keep their codes, and both are told", async () => {
		const { v1, v2, hers, tasks, codes, own, inHousehold, supervisor } = await atWork("A");
		const { handedOver } = await handOvers.leave(v1, { reason: "ill", untilOn: "2026-05-01", toCode: v2, byCode: supervisor });
		expect(handedOver).toEqual({ households: 4, jars: 2, generators: 0, tasks: 2 });
		expect(await holders(hers)).toEqual([v2, v2, v2, v2]);
		expect((await tasks()).map(({ code, assigneeId }) => [code, assigneeId])).toEqual(codes.map((code) => [code, v2]));
		const kept = await world.store.query("SELECT keeper_id FROM batch WHERE id IN ($1, $2)", [own.id, inHousehold.id]);
		expect(kept).toEqual([{ keeperId: v2 }, { keeperId: v2 }]);
		const counts = { households: 4, jars: 2, tasks: 2 };
		expect((await told(v2)).map(({ text }) => text).sort()).toEqual(["retest.first", "retest.first", "work.taken"]);
		expect((await told(v2)).find(({ text }) => text === "work.taken")?.fill).toEqual({ ...counts, name: `Invented ${v1}` });
		const hersNow = await told(v1);
		expect(hersNow.filter(({ text }) => text === "retest.first").map(({ state }) => state)).toEqual(["withdrawn", "withdrawn"]);
		expect(hersNow.find(({ text }) => text === "work.given")).toMatchObject({ fill: { ...counts, name: `Invented ${v2}` } });
		expect(await isActive(v1)).toBe(false);
		const ledger = await world.store.query<{ action: string }>(
			"SELECT action FROM ledger_entry WHERE area_id = 'A' AND action IN ('household assigned', 'jar handed over', 'task handed over', 'is away')",
		);
		expect(ledger).toHaveLength(4 + 2 + 2 + 1);
	});

	it("is answered by the new person with the old code, and what follows falls due with her", async () => {
		const { v1, v2, codes, own } = await atWork("B");
		await handOvers.leave(v1, { reason: "left", toCode: v2 });
		await write(world, "UPDATE person SET phone_e164 = $2 WHERE id = $1", [v2, "+447700900555"]);
		const [task] = await world.store.query<{ code: string }>("SELECT code FROM task WHERE subject_id = $1 AND state = 'open'", [
			own.id,
		]);
		expect(codes).toContain(task?.code);
		const text = { channel: "sms", channelMessageId: `b-${kind}`, fromAddress: "+447700900555", body: `${task?.code} 4` };
		expect(await world.replies.receive(text)).toMatchObject({ outcome: "accepted" });
		const [due] = await world.store.query<{ dueAtMs: number | null }>(
			"SELECT due_at_ms FROM due WHERE subject_id = $1 AND kind = $2",
			[own.id, RETEST],
		);
		expect(due?.dueAtMs).toBeGreaterThan(world.clock.nowMs());
	});

	it("who comes back gets hers back if she wants, but not what has been given on meanwhile", async () => {
		const { v1, v2, v3, hers, tasks, codes } = await atWork("C");
		await handOvers.leave(v1, { reason: "ill", toCode: v2 });
		const assignments = world.the(Assignments);
		await assignments.assign(hers[3] as string, { volunteerCode: v3 }, "any");
		const back = await handOvers.comeBack(v1, true);
		expect(back).toEqual({ households: 3, jars: 2, generators: 0, tasks: 2 });
		expect(await holders(hers)).toEqual([v1, v1, v1, v3]);
		expect((await tasks()).map(({ code, assigneeId }) => [code, assigneeId])).toEqual(codes.map((code) => [code, v1]));
		expect(await isActive(v1)).toBe(true);
		expect((await told(v2)).at(-1)).toMatchObject({
			text: "work.given",
			fill: { households: 3, jars: 2, tasks: 2, name: `Invented ${v1}` },
		});
		expect((await told(v1)).at(-1)).toMatchObject({
			text: "work.taken",
			fill: { households: 3, jars: 2, tasks: 2, name: `Invented ${v2}` },
		});
		expect(await refusalOf(handOvers.comeBack(v1, true))).toMatchObject({ code: "conflict", status: 409 });
	});

	it("who comes back without wanting it is at work again, and the others keep what they have", async () => {
		const { v1, v2, hers } = await atWork("D");
		await handOvers.leave(v1, { reason: "on leave", toCode: v2 });
		expect(await handOvers.comeBack(v1, false)).toEqual({ households: 0, jars: 0, generators: 0, tasks: 0 });
		expect([await isActive(v1), new Set(await holders(hers))]).toEqual([true, new Set([v2])]);
	});

	it("is shared among those who are left by a proposal: on accepting, jars and tasks go along with their households, the rest to one", async () => {
		const { v1, v2, hers, tasks, supervisor } = await atWork("E");
		const { handedOver, proposal } = await handOvers.leave(v1, { reason: "left" });
		expect(handedOver).toEqual({ households: 0, jars: 0, generators: 0, tasks: 0 });
		await proposal?.settled;
		const id = proposal?.id as string;
		const open = await world.the(Proposals).named(id);
		expect(open).toMatchObject({ state: "open", restToId: v2, summary: { by: "optimiser", leftOver: 0 } });
		expect(open.summary?.loads.map(({ volunteerId }) => volunteerId)).not.toContain(v1);
		expect(await holders(hers)).toEqual([v1, v1, v1, v1]);
		const { moved } = await handOvers.accept(id, String(open.version), supervisor);
		expect(moved).toBe(4);
		// The next one lives a kilometre away, the one after two.
		expect(new Set(await holders(hers))).toEqual(new Set([v2]));
		expect((await tasks()).map(({ assigneeId }) => assigneeId)).toEqual([v2, v2]);
		const [left] = await world.store.query<{ jars: number; tasks: number }>(
			`SELECT (SELECT COUNT(*) FROM batch WHERE keeper_id = $1) AS jars, (SELECT COUNT(*) FROM task WHERE assignee_id = $2 AND state = 'open') AS tasks`,
			[v1, v1],
		);
		expect([Number(left?.jars), Number(left?.tasks)]).toEqual([0, 0]);
		expect(await handOvers.comeBack(v1, true)).toEqual({ households: 4, jars: 2, generators: 0, tasks: 2 });
		expect(await holders(hers)).toEqual([v1, v1, v1, v1]);
	});

	it("whose proposal nobody has accepted yet comes back: the proposal is turned down and everything is still hers", async () => {
		const { v1, hers } = await atWork("F");
		const { proposal } = await handOvers.leave(v1, { reason: "ill" });
		await proposal?.settled;
		expect(await handOvers.comeBack(v1, true)).toEqual({ households: 0, jars: 0, generators: 0, tasks: 0 });
		const { id = "" } = proposal ?? {};
		expect((await world.the(Proposals).named(id)).state).toBe("rejected");
		expect(await holders(hers)).toEqual([v1, v1, v1, v1]);
	});

	it("keeps nothing of a hand-over that is more than the named person said that she can take on", async () => {
		const { v1, v2, hers, tasks } = await atWork("G");
		await write(world, "UPDATE volunteer_capacity SET most_households = 3 WHERE person_id = $1", [v2]);
		expect(await refusalOf(handOvers.leave(v1, { reason: "ill", toCode: v2 }))).toMatchObject({ code: "not-allowed" });
		expect([await isActive(v1), ...(await holders(hers))]).toEqual([true, v1, v1, v1, v1]);
		expect((await tasks()).map(({ assigneeId }) => assigneeId)).toEqual([v1, v1]);
		expect(await world.store.query("SELECT id FROM absence WHERE person_id = $1", [v1])).toEqual([]);
	});

	it("is refused where nobody or the wrong one is named, or the days don't fit", async () => {
		const { v1, v2, supervisor } = await atWork("H");
		const at = async (leaving: Parameters<HandOvers["leave"]>[1], person = v1) => {
			const { code, problems, status } = await refusalOf(handOvers.leave(person, leaving));
			return [code, problems[0]?.at, status];
		};
		expect(await at({ reason: "ill", toCode: "nobody" })).toEqual(["unknown-subject", "/toPersonCode", 422]);
		expect(await at({ reason: "ill", toCode: v1 })).toEqual(["invalid-input", "/toPersonCode", 422]);
		expect(await at({ reason: "ill", toCode: supervisor })).toEqual(["not-allowed", "/toPersonCode", 422]);
		expect(await at({ reason: "ill", fromOn: "2020-01-02", untilOn: "2020-01-01", toCode: v2 })).toEqual([
			"invalid-input",
			"/until",
			422,
		]);
		expect(await at({ reason: "ill", untilOn: "2026-01-01", fromOn: "2026-01-01", toCode: v2 })).toEqual([
			...["invalid-input", "/until", 422],
		]);
		expect(await at({ reason: "ill", toCode: v2, byCode: "sup" })).toEqual(["not-allowed", "/byPersonCode", 403]);
		expect(await at({ reason: "ill", toCode: v2 }, "nobody")).toEqual(["unknown-subject", undefined, 404]);
		expect(await at({ reason: "ill", toCode: v2 }, supervisor)).toEqual(["not-allowed", "code", 422]);
		expect(await isActive(v1)).toBe(true);
	});

	it("hears of it though she is away; of nothing else", async () => {
		const { v1, v2 } = await atWork("I");
		await handOvers.leave(v1, { reason: "ill", toCode: v2 });
		world.clock.advance(DAY_MS);
		const claimed = await world.store.work.run((tx) =>
			claimReady(tx, world.clock.nowMs(), world.clock.nowMs() + 60_000, 500, "bulk"),
		);
		const wanted = claimed.filter(({ personId, unwanted }) => personId === v1 && unwanted === null);
		expect(wanted.map(({ textName }) => textName)).toEqual(["work.given"]);
	});
});
