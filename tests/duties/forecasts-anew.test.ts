import { Readable } from "node:stream";
import { ProgrammeRules } from "../../src/api/programme/rules.js";
import { Importer } from "../../src/programme/import/importer.js";
import { policyFrom } from "../../src/programme/policy.js";
import { DAY_MS } from "../../src/time/clock.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, settle, WARM, type World } from "../support/world.js";

onEachDatabase("forecasts are made anew", (kind) => {
	let world: World;
	beforeEach(async () => {
		world = await newWorld(kind);
		await settle(world);
	});
	afterEach(() => world.remove());

	const rules = () => new ProgrammeRules(world.store, world.clock, world.ids);
	const change = (over: object) => rules().change("Invented", policyFrom(over), "any");
	const due = async () =>
		(await world.store.query<{ dueAtMs: number }>("SELECT due_at_ms FROM due ORDER BY subject_id")).map(({ dueAtMs }) => dueAtMs);
	const stale = async () => (await world.store.query("SELECT batch_id FROM forecast_stale")).length;
	const actions = async () =>
		(
			await world.store.query<{ action: string }>("SELECT action FROM ledger_entry WHERE subject_kind = 'programme' ORDER BY id")
		).map(({ action }) => action);
	const once = () => false;

	it("in the background after the rules have changed: due instants move, and the ledger tells of the beginning and the end", async () => {
		for (const code of ["B1", "B2"]) await aBatch(world, code);
		const before = await due();
		await change({ usableLimitGPerL: 3 });
		expect([await stale(), await due()]).toEqual([2, before]);
		expect(await world.anew.work(once)).toBe(2);
		// A lower limit is passed later.
		for (const [i, at] of (await due()).entries()) expect(at).toBeGreaterThan((before[i] as number) + DAY_MS);
		expect(await due()).toEqual(
			await Promise.all(["B1", "B2"].map(async (code) => (await world.batches.detail(code)).forecast.retestAtMs)),
		);
		expect([await stale(), await world.anew.work(once)]).toEqual([0, 0]);
		expect(await actions()).toEqual(["forecasts to be made anew", "rules changed", "forecasts made anew"]);
	});

	it("not where the rules that changed say nothing of strength or tests", async () => {
		await aBatch(world);
		await change({ ladder: [], doseMgPerL: { clear: 2, cloudy: 4 } });
		expect(await stale()).toBe(0);
	});

	it("of the jars in an area whose climate was imported anew, and of no other", async () => {
		await aBatch(world);
		await world.store.work.run((tx) =>
			tx.affected(
				`INSERT INTO area (id, code, name, time_zone, latitude_deg, longitude_deg, altitude_m, climate) VALUES ('other', 'A2', 'Other invented area', 'Africa/Nairobi', 0, 37, 1000, $1)`,
				[JSON.stringify(WARM)],
			),
		);
		await aBatch(world, "B2", { areaCode: "A2" });
		const [hotBefore, otherBefore] = (await Promise.all(
			["B1", "B2"].map(async (code) => (await world.batches.detail(code)).forecast.retestAtMs),
		)) as number[];
		const months = Array.from({ length: 12 }, (_, month) => String(month + 1).padStart(2, "0"));
		const columns = ["day_mean_c", "night_mean_c", "cloud_fraction"].flatMap((name) => months.map((month) => `${name}_${month}`));
		const header = ["code", "name", "parent_code", "time_zone", "latitude_deg", "longitude_deg", "altitude_m"];
		const values = [...Array(12).fill(38), ...Array(12).fill(30), ...Array(12).fill(0.4)];
		const file = [
			[...header, ...columns],
			["A1", "Invented area", "", "Africa/Nairobi", -1.5, 37, 1200, ...values],
		]
			.map((row) => row.join(","))
			.join("\n");
		const report = await world.the(Importer).importFile("areas", Readable.from([Buffer.from(file)]));
		expect(report).toMatchObject({ state: "imported", changed: 1 });
		expect(await world.anew.work(once)).toBe(1);
		const [hot, other] = (await Promise.all(
			["B1", "B2"].map(
				async (code) =>
					(
						await world.store.query<{ at: number }>(
							"SELECT d.due_at_ms AS at FROM due d JOIN batch b ON b.id = d.subject_id WHERE b.code = $1",
							[code],
						)
					)[0]?.at,
			),
		)) as number[];
		expect(other).toBe(otherBefore);
		// 38 and 30 °C instead of 30 and 22: it weakens faster.
		expect(hot).toBeLessThan((hotBefore as number) - DAY_MS);
	});

	it("a page at a time, as long as it is let: the next round goes on where the last one stopped", async () => {
		for (let n = 0; n < 30; n++) await aBatch(world, `B${n}`);
		await change({ usableLimitGPerL: 3 });
		expect(await world.anew.work(once)).toBe(25);
		expect(await stale()).toBe(5);
		expect(await world.anew.work(() => true)).toBe(5);
	});

	it("and whoever keeps a jar that is too weak by the new rules is told so, once", async () => {
		await aBatch(world);
		world.clock.advance(2 * DAY_MS);
		await change({ usableLimitGPerL: 6 });
		await world.anew.work(once);
		await change({ usableLimitGPerL: 6.5 });
		await world.anew.work(once);
		expect((await world.messages()).map(({ text, recipientId }) => [text, recipientId])).toEqual([["jar.weak", "vol"]]);
		expect(await world.store.query("SELECT state FROM batch")).toEqual([{ state: "weak" }]);
	});

	it("of 20 000 jars are marked in one statement of less than 5 s: nobody waits for the forecasts themselves", async () => {
		await aBatch(world);
		await world.store.work.run((tx) =>
			tx.affected(
				`INSERT INTO batch (id, code, area_id, keeper_id, made_at_ms, volume_l, made_strength_g_per_l, made_strength_ln_sd, salt_g_per_l, ph_knowledge, wall, exposure, lit_area_m2, state, forecast)
				 WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 20000)
				 SELECT 'x' || i, 'X' || i, area_id, keeper_id, made_at_ms, volume_l, made_strength_g_per_l, made_strength_ln_sd, salt_g_per_l, ph_knowledge, wall, exposure, lit_area_m2, state, forecast FROM batch, n WHERE code = 'B1'`,
			),
		);
		const startedMs = performance.now();
		await change({ usableLimitGPerL: 3 });
		expect(performance.now() - startedMs).toBeLessThan(5000);
		expect(await stale()).toBe(20_001);
	});
});
