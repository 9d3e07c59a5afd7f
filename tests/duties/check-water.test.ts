import { DAY_MS, HOUR_MS, MINUTE_MS } from "../../src/time/clock.js";
import { CHECK_WATER, CLEAN_CONTAINER } from "../../src/water/kinds.js";
import { onEachDatabase } from "../support/stores.js";
import { newWorld, START_MS, type World } from "../support/world.js";
import { aHousehold, type Facts, factsOf } from "./water-world.js";

onEachDatabase("a container's water", (kind) => {
	let world: World;
	let facts: Facts;
	beforeEach(async () => {
		world = await newWorld(kind);
		await aHousehold(world);
		facts = factsOf(world);
	});
	afterEach(() => world.remove());

	const later = async (minutes: number) => {
		world.clock.advance(minutes * MINUTE_MS);
		await world.sweep.openDue();
		await world.escalation.climb();
	};

	// 7.5 mL x 5 g/L / 20 L = 1.875 mg/L (computed independently); the wait of 30 min at 18 °C or more: WHO/WEDC Technical Note 11.
	it("is read 30 minutes after its first dose of 7.5 mL, and the jar holds 7.5 mL less", async () => {
		const taken = await facts.dose();
		expect(taken.row.doseMgPerL).toBeCloseTo(1.875, 1);
		expect(taken).toMatchObject({ leftInJarMl: 4992.5, waitEndsAtMs: START_MS + 30 * MINUTE_MS, readBeforeDrinking: false });
		await later(29);
		expect(await facts.open()).toEqual([]);
		await later(1);
		const [task] = await facts.open();
		expect(task).toMatchObject({ kind: CHECK_WATER, subjectId: "c1", assigneeId: "vol" });
		expect(await facts.last()).toMatchObject({
			text: "water.check.first",
			recipientId: "vol",
			fill: { container: "C1", reason: "wait" },
		});
	});

	it("that reads 0.5 mg/L is fit: she is told, the task closes with its evidence, and the next check is the household's turn", async () => {
		await facts.dose();
		await later(30);
		const [task] = await facts.open();
		expect(await facts.text(`${task?.code} 0.5`)).toMatchObject({ outcome: "accepted" });
		expect(await facts.last()).toMatchObject({ text: "water.fit", recipientId: "vol", fill: { mgPerL: 0.5 } });
		expect(await facts.checks()).toMatchObject([{ band: "fit", moment: "after-contact" }]);
		const [closed] = await world.store.query<{ outcome: string }>("SELECT outcome FROM task");
		expect(JSON.parse(closed?.outcome ?? "{}")).toMatchObject({
			freeChlorineMgPerL: 0.5,
			band: "fit",
			fitToDrink: true,
			counted: true,
		});
		const dueAtMs = (await facts.dueAtMs(CHECK_WATER)) as number;
		expect(dueAtMs).toBeGreaterThan(world.clock.nowMs() + DAY_MS);
		expect(dueAtMs).toBeLessThanOrEqual(world.clock.nowMs() + 14 * DAY_MS);
	});

	// Topped up to twice 0.5 mg/L: (1.0 - 0.1) mg/L x 20 L / 5 g/L = 3.6 mL, 3.5 mL on a syringe in halves (computed independently).
	it("that reads 0.1 mg/L gets 3.5 mL once, is read again 30 minutes later, and then goes to another source with the supervisor told", async () => {
		await facts.dose();
		await later(30);
		await facts.text(`${(await facts.open())[0]?.code} 0.1`);
		expect(await facts.last()).toMatchObject({
			text: "water.again",
			fill: { mgPerL: 0.1, bleachMl: 3.5, jar: "B1", minutes: 30 },
		});
		expect(await facts.open()).toEqual([]);
		// Ten minutes to do it, then the wait.
		await later(40);
		const [again] = await facts.open();
		expect(await facts.last()).toMatchObject({ text: "water.check.first", fill: { reason: "must" } });
		await facts.text(`${again?.code} 0.2`);
		expect((await facts.told()).slice(-2)).toEqual([
			["water.otherSource", "vol"],
			["water.unfit.supervisor", "sup"],
		]);
		expect(await world.store.query("SELECT state, ended_because FROM dose")).toEqual([
			{ state: "closed", endedBecause: "not fit" },
		]);
	});

	it("that is dosed again where a reading asked for it is one fill: its wait begins anew with the second dose", async () => {
		await facts.dose();
		await later(30);
		await facts.read(0.1);
		await later(25);
		await facts.dose(3.5, { into: "same water" });
		expect(await world.store.query("SELECT bleach_ml, state, ended_because FROM dose ORDER BY id")).toEqual([
			{ bleachMl: 7.5, state: "closed", endedBecause: "next dose" },
			{ bleachMl: 3.5, state: "open", endedBecause: null },
		]);
		expect(await facts.dueAtMs(CHECK_WATER)).toBe(world.clock.nowMs() + 30 * MINUTE_MS);
	});

	it("over 5 mg/L is told at once to her and to her supervisor, urgent, also when the office writes it down", async () => {
		await facts.dose();
		await later(30);
		const kept = await facts.read(6, { checkerId: null });
		expect(kept).toMatchObject({ band: "too-high", fitToDrink: false });
		const messages = await world.store.query("SELECT text, recipient_id, urgent FROM message ORDER BY created_at_ms, id");
		expect(messages.slice(-2).map((row) => ({ ...row, urgent: Boolean(row["urgent"]) }))).toEqual([
			{ text: "water.dilute", recipientId: "vol", urgent: true },
			{ text: "water.unfit.supervisor", recipientId: "sup", urgent: true },
		]);
		expect((await world.tasks())[0]).toMatchObject({ state: "done" });
	});

	it("that nobody asked about is judged as stored water: 0.1 mg/L isn't fit, she is told what to add, and its container is cleaned a day later", async () => {
		await facts.dose();
		await later(30);
		await facts.read(0.8);
		await later(10 * 60);
		const kept = await facts.read(0.1, { checkerId: null });
		expect(kept).toMatchObject({ moment: "point-of-use", fitToDrink: false, outcome: { action: "dose-stored-water" } });
		// The usual dose again, 7.5 or 8 mL by what the jar has lost in ten warm hours.
		const { text: name, recipientId, fill } = await facts.last();
		expect([name, recipientId]).toEqual(["water.again", "vol"]);
		expect([7.5, 8]).toContain(fill.bleachMl);
		expect(await facts.dueAtMs(CLEAN_CONTAINER)).toBe(world.clock.nowMs() + DAY_MS);
	});

	it("that is read off the top of the scale at 5+ is over the guideline value of 5 mg/L (WHO), not at it", async () => {
		await facts.dose();
		await later(30);
		await facts.text(`${(await facts.open())[0]?.code} 5+`);
		expect(await facts.checks()).toMatchObject([{ band: "too-high", freeChlorineMgPerL: 5 }]);
		expect(JSON.parse((await facts.checks())[0]?.flags ?? "[]")).toContain("top of the scale");
	});

	describe("a reading before the wait is over", () => {
		it("is kept, flagged and not counted; the check comes when the wait is over, and the forecast learns nothing of it", async () => {
			await facts.dose();
			world.clock.advance(12 * MINUTE_MS);
			const kept = await facts.read(0);
			expect(kept).toMatchObject({ fitToDrink: null, outcome: { counted: false } });
			expect(kept.flags).toContain("too early");
			expect(await facts.last()).toMatchObject({ text: "water.tooEarly", recipientId: "vol", fill: { minutes: 18 } });
			expect(await facts.dueAtMs(CHECK_WATER)).toBe(START_MS + 30 * MINUTE_MS);
			expect(await facts.dueAtMs(CLEAN_CONTAINER)).toBeNull();
			await later(18);
			expect(await facts.open()).toHaveLength(1);
		});

		it("of the water that was in it before is kept too and moves nothing", async () => {
			const before = world.clock.nowMs();
			world.clock.advance(HOUR_MS);
			await facts.dose();
			const kept = await facts.read(0, { checkedAtMs: before });
			expect([kept.fitToDrink, kept.flags]).toEqual([null, ["of earlier water"]]);
			expect(await facts.dueAtMs(CHECK_WATER)).toBe(world.clock.nowMs() + 30 * MINUTE_MS);
		});
	});

	describe("by the field card", () => {
		beforeEach(() => facts.follow("field-card"));

		// 30 mL x 5 g/L / 20 L = 7.5 mg/L (computed independently).
		it("is read before anybody drinks it, after every dose", async () => {
			const taken = await facts.dose(30);
			expect(taken.row.doseMgPerL).toBeCloseTo(7.5, 1);
			expect(taken).toMatchObject({ readBeforeDrinking: true, nextCheckAtMs: START_MS + 30 * MINUTE_MS });
			await later(30);
			expect(await facts.last()).toMatchObject({ text: "water.check.first", fill: { reason: "must" } });
			await facts.text(`${(await facts.open())[0]?.code} 3`);
			await later(24 * 60);
			await facts.dose(30, { into: "new water" });
			await later(30);
			expect(await facts.open()).toHaveLength(1);
		});

		it("under 1 mg/L is dosed with the same 30 mL again; under 1 twice goes to another source, and the supervisor is told", async () => {
			await facts.dose(30);
			await later(30);
			await facts.text(`${(await facts.open())[0]?.code} 0.5`);
			expect(await facts.last()).toMatchObject({ text: "water.again", fill: { bleachMl: 30, jar: "B1", minutes: 30 } });
			await later(5);
			await facts.dose(30, { into: "same water" });
			await later(30);
			await facts.text(`${(await facts.open())[0]?.code} 0.9`);
			expect((await facts.told()).slice(-2)).toEqual([
				["water.otherSource", "vol"],
				["water.unfit.supervisor", "sup"],
			]);
		});

		it("of 5 mg/L is poured five times and read again two hours later", async () => {
			await facts.dose(30);
			await later(30);
			await facts.text(`${(await facts.open())[0]?.code} 5`);
			expect(await facts.last()).toMatchObject({ text: "water.pour", fill: { minutes: 120 } });
			expect(await facts.dueAtMs(CHECK_WATER)).toBe(world.clock.nowMs() + 130 * MINUTE_MS);
		});

		it("is judged by the version it was dosed by when its household is moved meanwhile", async () => {
			await facts.dose(30);
			await facts.follow("two-dose");
			await later(30);
			await facts.text(`${(await facts.open())[0]?.code} 1.2`);
			expect(await facts.checks()).toMatchObject([{ band: "low" }]);
			await facts.dose(7.5, { into: "new water" });
			expect(
				await world.store.query("SELECT code FROM container_fill f JOIN protocol_version v ON v.id = f.protocol_version_id"),
			).toEqual([{ code: "two-dose" }]);
		});
	});

	it("that people wait for is asked for again after an hour, and the supervisor is told after three, not after days", async () => {
		await facts.follow("field-card");
		await facts.dose(30);
		for (let minute = 0; minute < 5 * 60; minute += 10) await later(10);
		const messages = (await world.messages()).map(({ text: name, createdAtMs }) => [name, (createdAtMs - START_MS) / MINUTE_MS]);
		expect(messages).toEqual([
			["water.check.first", 30],
			["water.check.again", 90],
			["water.check.supervisor", 210],
		]);
	});

	it("is asked for at 20:30 too where it was dosed at 20:00, in her quiet hours; the reminder waits for the morning", async () => {
		world.clock.moveTo(START_MS + 12 * HOUR_MS);
		await facts.follow("field-card");
		await facts.dose(30);
		await later(30);
		await later(60);
		const waits = (await world.messages()).map(({ text: name, nextTryAtMs }) => [
			name,
			((nextTryAtMs ?? 0) - START_MS) / HOUR_MS,
		]);
		expect(waits).toEqual([
			["water.check.first", 12.5],
			// 06:00 the next morning.
			["water.check.again", 22],
		]);
	});

	it("that she can't read is asked for again after three hours, and her supervisor is told", async () => {
		await facts.follow("field-card");
		await facts.dose(30);
		await later(30);
		await facts.text(`${(await facts.open())[0]?.code} can't`);
		expect((await facts.told()).slice(-2)).toEqual([
			["reply.cannot", "vol"],
			["water.cannot.supervisor", "sup"],
		]);
		expect(await facts.dueAtMs(CHECK_WATER)).toBe(world.clock.nowMs() + 3 * HOUR_MS);
	});

	it("that is refilled takes back what was asked of the old water, and says why", async () => {
		await facts.dose();
		await later(30);
		await facts.dose(7.5, { into: "new water" });
		expect((await world.tasks()).map(({ state }) => state)).toEqual(["withdrawn"]);
		const [task] = await world.store.query<{ outcome: string }>("SELECT outcome FROM task");
		expect(JSON.parse(task?.outcome ?? "{}").because).toBe("the container was dosed anew");
		await later(30);
		expect(await facts.open()).toHaveLength(1);
	});

	it("that is used up isn't asked about before the household's turn", async () => {
		await facts.dose();
		expect(await facts.emptied()).toBe(true);
		await later(30);
		expect(await facts.open()).toEqual([]);
		expect(await facts.dueAtMs(CHECK_WATER)).toBeGreaterThan(world.clock.nowMs());
		expect(await facts.emptied()).toBe(false);
	});

	it("tells why, how to read it in measured amounts, the cautions, and what to answer", async () => {
		await facts.dose();
		await later(30);
		const [task] = await facts.open();
		const { why, steps, cautions, answerWith } = world.kinds
			.named(CHECK_WATER)
			.instructions({ ...JSON.parse(task?.brief ?? "{}"), code: task?.code });
		expect(why).toMatch(/C1 of household H1 was dosed with 1\.8\d? mg\/L 0\.5 hours ago; its wait of 30 minutes is over/);
		expect(steps.join(" ")).toMatch(/10 mL/);
		expect(cautions.join(" ")).toMatch(/Nobody drinks water whose check says that it isn't fit/);
		expect(answerWith).toContain(`${task?.code} 0.5`);
	});

	describe("refuses", () => {
		const counts = () =>
			world.store.query(
				"SELECT (SELECT count(*) FROM dose) AS doses, (SELECT count(*) FROM stock_move) AS moves, (SELECT count(*) FROM residual_check) AS checks, (SELECT count(*) FROM ledger_entry) AS entries",
			);
		const unchanged = async (doing: () => Promise<unknown>, code: string, at: string) => {
			const before = await counts();
			await expect(doing()).rejects.toMatchObject({ code, problems: [{ at, message: expect.any(String) }] });
			expect(await counts()).toEqual(before);
		};

		it("more bleach than the jar holds: 5000 mL are in it", async () => {
			await facts.dose(7.5);
			await unchanged(() => facts.dose(4993, { into: "new water" }), "more-than-held", "/bleachMl");
		});

		it("a second open dose, unless somebody says whether the water is new", async () => {
			await facts.dose();
			await unchanged(() => facts.dose(), "conflict", "/into");
			const [first] = await Promise.allSettled([facts.dose(), facts.dose()]);
			expect(first?.status).toBe("rejected");
			expect(await world.store.query("SELECT state FROM dose WHERE state = 'open'")).toHaveLength(1);
		});

		it("more bleach into the same water of which no reading has asked for it", async () => {
			await facts.dose();
			await unchanged(() => facts.dose(7.5, { into: "same water" }), "conflict", "/into");
			await later(30);
			await facts.read(1);
			await unchanged(() => facts.dose(7.5, { into: "same water" }), "conflict", "/into");
		});

		it("a dose before its batch was made, or of tomorrow, or of more water than the container holds", async () => {
			await unchanged(() => facts.dose(7.5, { dosedAtMs: START_MS - HOUR_MS }), "time-before-made", "/dosedAt");
			await unchanged(() => facts.dose(7.5, { dosedAtMs: START_MS + 1 }), "time-in-future", "/dosedAt");
			await unchanged(() => facts.dose(7.5, { waterL: 21 }), "invalid-input", "/waterL");
		});

		it("a reading of tomorrow, and one of 51 mg/L", async () => {
			await unchanged(() => facts.read(0.5, { checkedAtMs: START_MS + 1 }), "time-in-future", "/checkedAt");
			await unchanged(() => facts.read(51), "out-of-scale", "/reading");
		});

		it("an answer of DONE where mg/L are asked for, and leaves the task open", async () => {
			await facts.dose();
			await later(30);
			expect(await facts.text(`${(await facts.open())[0]?.code} done`)).toMatchObject({ outcome: "refused" });
			expect(await facts.open()).toHaveLength(1);
		});
	});

	it("keeps a dose that was written down two days late for stock and history, and asks nothing of its water", async () => {
		world.clock.advance(2 * DAY_MS);
		const taken = await facts.dose(7.5, { dosedAtMs: START_MS });
		expect(taken).toMatchObject({ row: { state: "closed" }, leftInJarMl: 4992.5, waitEndsAtMs: null });
		expect(await facts.dueAtMs(CHECK_WATER)).toBeNull();
	});
});
