import { type District, district } from "../../src/demo/district.js";
import { loadDistrict } from "../../src/demo/load.js";
import { InputError } from "../../src/errors/errors.js";
import { currentPolicy } from "../../src/programme/policy.js";
import { AreaRow, PersonRow } from "../../src/programme/rows.js";
import { BatchRow, StrengthTestRow } from "../../src/stock/rows.js";
import { newStore, onEachDatabase } from "../support/stores.js";

const START = Date.UTC(2025, 10, 24, 3);
const one = district({ start: 1, startAtMs: START });

type TestStore = Awaited<ReturnType<typeof newStore>>;

const TABLES = ["area", "person", "household", "container", "generator", "batch", "strength_test", "dose", "residual_check"];

async function countsOf(store: TestStore): Promise<Record<string, number>> {
	const counts = await Promise.all(TABLES.map((table) => store.query<{ n: number }>(`SELECT count(*) AS n FROM ${table}`)));
	return Object.fromEntries(TABLES.map((table, i) => [table, Number(counts[i]?.[0]?.n)]));
}

onEachDatabase("loading the invented district", (kind) => {
	let loaded: TestStore;
	let fresh: TestStore;
	beforeAll(async () => {
		[loaded, fresh] = [await newStore(kind), await newStore(kind)];
		expect(await loadDistrict(loaded, one)).toBe("loaded");
	});
	afterAll(() => Promise.all([loaded.remove(), fresh.remove()]));

	it("writes every row, and they come back as they were made", async () => {
		expect(await countsOf(loaded)).toEqual({
			area: 5,
			person: 17,
			household: 320,
			container: one.containers.length,
			generator: 4,
			batch: one.batches.length,
			strength_test: one.strengthTests.length,
			dose: one.doses.length,
			residual_check: one.residualChecks.length,
		});
		const manager = loaded.writer.manager;
		// What a district says nothing of comes back as null.
		const plain = (rows: readonly object[]) =>
			rows.map((row) => Object.fromEntries(Object.entries(row).filter(([, value]) => value !== null)) as { id: string });
		const opened = await loaded.query("SELECT name, phone_e164, email FROM person ORDER BY id");
		const people = (await manager.find(PersonRow, { order: { id: "ASC" } })).map((row, i) => ({ ...row, ...opened[i] }));
		expect(plain(people)).toEqual(plain(one.people));
		expect(plain(await manager.find(AreaRow, { order: { id: "ASC" } }))).toEqual(plain(one.areas));
		const byId = <R extends { id: string }>(rows: readonly R[]): R[] => [...rows].sort((a, b) => (a.id < b.id ? -1 : 1));
		expect(byId(plain(await manager.find(BatchRow)))).toEqual(byId(plain(one.batches)));
		expect(byId(plain(await manager.find(StrengthTestRow)))).toEqual(byId(plain(one.strengthTests)));
	});

	it("sets rules that the program can read, and says in the ledger what was loaded", async () => {
		expect((await currentPolicy(loaded)).testKit).toBe("comparator 0-5");
		const entries = await loaded.query<{ action: string; detail: string }>("SELECT action, detail FROM ledger_entry");
		expect(entries.map(({ action }) => action)).toEqual(["invented district loaded"]);
		expect(JSON.parse(entries[0]?.detail as string)).toMatchObject({ start: 1, household: 320, dose: one.doses.length });
	});

	it("changes nothing when the same district is loaded again", async () => {
		const before = await countsOf(loaded);
		let computed = false;
		const again = await loadDistrict(loaded, district({ start: 1, startAtMs: START }), async () => {
			computed = true;
		});
		expect(again).toBe("there already");
		expect(computed).toBe(false);
		expect(await countsOf(loaded)).toEqual(before);
		expect(await loaded.query("SELECT id FROM ledger_entry")).toHaveLength(1);
	});

	it("refuses a database with other people in it, another demo's too, says what to do, and leaves it as it was", async () => {
		const before = await countsOf(loaded);
		const refusal = loadDistrict(loaded, district({ start: 2, startAtMs: START }) as District);
		await expect(refusal).rejects.toBeInstanceOf(InputError);
		await expect(refusal).rejects.toMatchObject({
			code: "conflict",
			status: 409,
			message: expect.stringContaining("empty database"),
		});
		expect(await countsOf(loaded)).toEqual(before);
	});

	it("hands the jars that are in use to what computes forecasts, in the same unit of work: nothing is kept when that fails", async () => {
		const seen: string[] = [];
		const failing = loadDistrict(fresh, one, async (tx, batchIds) => {
			seen.push(...batchIds);
			expect(await tx.query("SELECT id FROM batch")).toHaveLength(one.batches.length);
			throw new Error("no forecast");
		});
		await expect(failing).rejects.toThrow("no forecast");
		expect(seen).toEqual(one.batches.filter(({ state }) => state === "in use").map(({ id }) => id));
		expect(Object.values(await countsOf(fresh)).every((count) => count === 0)).toBe(true);
	});

	it("refuses a database in which somebody has begun to set up areas", async () => {
		await fresh.work.run((tx) =>
			tx.manager.insert(AreaRow, { ...(one.areas[0] as AreaRow), id: "somebody's", code: "REAL", name: "Somebody's area" }),
		);
		await expect(loadDistrict(fresh, one)).rejects.toMatchObject({ code: "conflict" });
		expect((await countsOf(fresh))["person"]).toBe(0);
	});
});
