import { Readable } from "node:stream";
import { dueNow } from "../../src/programme/due.js";
import { Importer } from "../../src/programme/import/importer.js";
import { litAreaRangeM2 } from "../../src/science/photolysis.js";
import { batchImport } from "../../src/stock/import.js";
import { litAreaProblem } from "../../src/stock/outside-model.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, settle, type World } from "../support/world.js";

/** 1000 L of 15 g/L that light reaches through 1 cm²: 21 M·cm for each of 100 cm, outside the model of light (0.001 to 100 M·cm). */
const PINHOLE = { volumeL: 1000, madeStrengthGPerL: 15, litAreaM2: 0.0001, wall: "clearPlastic", exposure: "directSun" } as const;

describe("the lit area of a jar", () => {
	it("may be 0.0035 to 10 m² for 50 L of 5 g/L: 0.0705 mol/L x 50 L / (10 x 100 M·cm) (computed independently)", () => {
		const [least, most] = litAreaRangeM2(50, 5);
		expect(Math.abs(least - 0.003526)).toBeLessThan(1e-5);
		expect(Math.abs(most - 352.6)).toBeLessThan(1);
		const jar = { volumeL: 50, madeStrengthGPerL: 5, wall: "clearGlass" } as const;
		expect(litAreaProblem({ ...jar, litAreaM2: 0.0036 })).toBeUndefined();
		expect(litAreaProblem({ ...jar, litAreaM2: 0 })).toBeUndefined();
		expect(litAreaProblem({ ...jar, litAreaM2: 0.0034 })).toBe(
			"must be 0.0036 to 10 (square metres that light falls on) for 50 L of 5 g/L, or 0 where no light falls on it",
		);
		expect(litAreaProblem({ ...jar, wall: "opaque", litAreaM2: 0.0001 })).toBeUndefined();
	});
});

onEachDatabase("a jar that the models don't take", (kind) => {
	let world: World;
	beforeEach(async () => {
		world = await newWorld(kind);
		await settle(world);
	});
	afterEach(() => world.remove());

	it("is refused when it is put on file, with the field and what would be right", async () => {
		await expect(aBatch(world, "B1", PINHOLE)).rejects.toMatchObject({
			code: "invalid-input",
			problems: [{ at: "/litAreaM2", message: expect.stringMatching(/^must be 0\.22 to 10 \(square metres/) }],
		});
	});

	it("is refused when it is imported, by line, column and value, and nothing of the file is kept", async () => {
		const header = Object.keys(batchImport.columns).join(",");
		const row = (code: string, area: number) =>
			`${code},,A1,vol,2026-03-01 08:00,1000,15,9,strip,clearPlastic,directSun,30,${area}`;
		const importer = new Importer(world.store, world.clock, world.ids, { kinds: [batchImport] });
		const file = Buffer.from([header, row("B1", 0.5), row("B2", 0.0001)].join("\n"));
		const report = await importer.importFile("batches", Readable.from([file]));
		expect(report).toMatchObject({
			state: "refused",
			problems: [{ line: 3, column: "lit_area_m2", value: "0.0001", message: expect.stringMatching(/^must be 0\.22 to 10/) }],
		});
		expect(await world.store.query("SELECT id FROM batch")).toEqual([]);
	});

	/** Written past every check, as an earlier release or a hand may have done. */
	async function slippedIn(): Promise<string> {
		const { id } = await aBatch(world, "ODD");
		await world.store.work.run(async (tx) => {
			await tx.affected(
				"UPDATE batch SET volume_l = 1000, made_strength_g_per_l = 15, lit_area_m2 = 0.0001, wall = 'clearPlastic', exposure = 'directSun', forecast = NULL WHERE id = $1",
				[id],
			);
			await dueNow(tx, "retest stored bleach", "batch", [id], world.clock.nowMs());
		});
		return id;
	}

	it("that slipped in doesn't keep the sweep from the others, stands in the ledger, and isn't tried at each sweep", async () => {
		const id = await slippedIn();
		for (const code of ["B1", "B2"]) await aBatch(world, code);
		await world.store.work.run((tx) => tx.affected("UPDATE batch SET forecast = NULL WHERE code IN ('B1', 'B2')"));
		await world.store.work.run((tx) => tx.affected("UPDATE due SET due_at_ms = $1", [world.clock.nowMs()]));
		await world.sweep.openDue();
		await world.live(12);
		expect((await world.tasks()).map(({ brief }) => JSON.parse(brief).jar).sort()).toEqual(["B1", "B2"]);
		const entries = await world.store.query<{ subjectId: string; detail: string }>(
			"SELECT subject_id, detail FROM ledger_entry WHERE action = 'jar can''t be forecast'",
		);
		expect(entries).toEqual([{ subjectId: id, detail: expect.stringContaining("concentration times path") }]);
	});

	it("that slipped in is told of with what is to be put right, and a test of it is kept", async () => {
		await slippedIn();
		await expect(world.batches.detail("ODD")).rejects.toMatchObject({ code: "conflict", status: 409 });
		const test = { kit: "comparator 0-5", sampleMl: 1, madeUpToL: 2, reading: "2", testerId: "vol" };
		await world.readings.record("ODD", { ...test, testedAtMs: world.clock.nowMs() });
		expect(await world.store.query("SELECT reading FROM strength_test")).toEqual([{ reading: "2" }]);
	});
});
