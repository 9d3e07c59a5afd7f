import { needChanged } from "../../src/stock/due-work.js";
import { DAY_MS } from "../../src/time/clock.js";
import { told } from "../support/moves.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch } from "../support/world.js";
import { type Served, served } from "./served.js";

onEachDatabase("the stock of a place", (kind) => {
	let api: Served;
	beforeAll(async () => {
		api = await served(kind);
		const { world } = api;
		await world.store.work.run(async (tx) => {
			await tx.query(
				`INSERT INTO generator (id, code, name, area_id, rated_current_a, cells_in_series, current_efficiency, batch_volume_l, salt_g_per_l, in_service)
				 VALUES ('gen', 'G1', 'Invented generator', 'area', 10, 1, 0.6, 5, 30, $1)`,
				[true],
			);
			await tx.query(
				"INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity) VALUES ('hh', 'HH1', 'area', 'vol', 40, 'well', 'clear')",
			);
		});
		await aBatch(world, "P1", { keeperCode: null, generatorCode: "G1", volumeL: 10 });
		world.clock.advance(DAY_MS / 24);
		await world.moves.record("P1", told(world, { kind: "drawn off", volumeMl: 800, into: { code: "V1", keeperCode: "vol" } }));
		await world.moves.record("P1", told(world, { kind: "drawn off", volumeMl: 300, into: { code: "H1", householdCode: "HH1" } }));
		await world.store.work.run((tx) => needChanged(tx, ["vol"], world.clock.nowMs()));
		for (let i = 0; i < 3; i++) await world.sweep.openDue();
	});
	afterAll(() => api.close());
	const get = async (url: string) => (await api.ask("GET", url)).body;

	it("is told in mL and in grams of available chlorine with an interval: 300 mL of about 5 g/L are about 1.5 g", async () => {
		const stock = await get("/households/HH1/stock");
		expect(stock).toMatchObject({ heldMl: 300, usableMl: 300, jars: [{ code: "H1", usable: true }] });
		expect(stock.chlorineG.expected).toBeGreaterThan(1.4);
		expect(stock.chlorineG.expected).toBeLessThan(1.6);
		expect(stock.chlorineG.low).toBeLessThan(stock.chlorineG.expected);
		expect(stock.chlorineG.high).toBeGreaterThan(stock.chlorineG.expected);
		// The jar's own forecast, asked exactly, holds the same within 2 %.
		const { forecast } = await get("/batches/H1");
		expect(stock.chlorineG.low / 0.3 / forecast.now.lowGPerL).toBeGreaterThan(0.95);
		expect(stock.chlorineG.low / 0.3 / forecast.now.lowGPerL).toBeLessThan(1.05);
	});

	it("counts what stands at a point, with a volunteer and in an area with those below it", async () => {
		expect(await get("/generators/G1/stock")).toMatchObject({ heldMl: 8900, jars: [{ code: "P1" }] });
		expect(await get("/areas/A1/stock")).toMatchObject({ heldMl: 10_000 });
		const person = await get("/people/vol/stock");
		// The household's jar is hers to look after too.
		expect(person).toMatchObject({ heldMl: 1100, productionPoint: "G1" });
		// 40 people · 5.3 L · 1.875 mg/L.
		expect(person.chlorineGPerDay).toBeCloseTo(0.3975, 3);
		expect(Date.parse(person.outAt)).toBeGreaterThan(Date.parse(person.collectAt));
	});

	it("of nobody is refused with where and what would be right", async () => {
		for (const url of ["/people/nobody/stock", "/households/none/stock", "/generators/none/plan", "/areas/none/plan"])
			expect([404, 422]).toContain((await api.ask("GET", url)).status);
	});

	it("has its plan of production: for a generator, and for an area's week as their sum", async () => {
		const plan = await get("/generators/G1/plan");
		expect(plan).toMatchObject({ generatorCode: "G1", inService: true, insteadOf: null, volunteers: 1, runs: 0, dueAt: null });
		await api.world.moves.record("P1", told(api.world, { kind: "spilt", volumeMl: 8500 }));
		const now = await get("/generators/G1/plan");
		expect(now).toMatchObject({ runs: 1, litres: 5, saltG: 150, waterL: 5, minutes: 189, reagentDrops: 5 });
		expect(await get("/areas/A1/plan")).toMatchObject({
			runs: 1,
			litres: 5,
			saltG: 150,
			shortL: 0,
			plans: [{ generatorCode: "G1" }],
		});
	});
});
