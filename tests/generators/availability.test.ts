import { generatorAvailability, generatorsInReach } from "../../src/generators/availability.js";
import { GeneratorRow } from "../../src/generators/rows.js";
import { onEachDatabase } from "../support/stores.js";
import { newWorld, settle, type World } from "../support/world.js";
import { aGenerator, emptied } from "./given.js";

onEachDatabase("what generators can make", (kind) => {
	let world: World;
	beforeAll(async () => {
		world = await newWorld(kind);
		await settle(world);
	});
	beforeEach(() => emptied(world));
	afterAll(() => world.remove());
	const at = (latitudeDeg: number | null, longitudeDeg: number | null, code: string, over: Partial<GeneratorRow> = {}) =>
		aGenerator(world, { id: code, code, latitudeDeg, longitudeDeg, ...over });
	/** The middle of the area. */
	const HERE = { latitudeDeg: -1.5, longitudeDeg: 37 };

	it("is 5 L of 5 g/L in 75 min at 8.4 A with 150 g of salt and 10.5 A h, by Faraday's law", async () => {
		await at(null, null, "G1");
		const [of] = await generatorAvailability(world.store, ["area", "area"]);
		// Source: 5 g/L * 5 L / (1.3228 g/(A h) * 0.6 * 3) = 10.5 A h, at 8.4 A 75.0 min.
		expect(of).toMatchObject({
			litresPerRun: 5,
			strengthGPerL: 5,
			minutesPerRun: 75,
			saltGPerRun: 150,
			...HERE,
			inService: true,
			operatorId: "vol",
		});
		expect(of?.chargeAhPerRun).toBeCloseTo(10.4997, 3);
	});

	it("is told of those out of service too in an area, but only of those that work in reach", async () => {
		await at(null, null, "G1", { inService: false });
		await at(null, null, "G2");
		expect((await generatorAvailability(world.store, ["area"])).map(({ code, inService }) => [code, inService])).toEqual([
			["G1", false],
			["G2", true],
		]);
		expect((await generatorsInReach(world.store, HERE)).map(({ code }) => code)).toEqual(["G2"]);
		expect(await generatorAvailability(world.store, [])).toEqual([]);
	});

	// Source: a degree of a great circle on a sphere of 6371 km is 111.19 km.
	it("is found within 15 km along the ground, the nearest first, and not beyond", async () => {
		await at(-1.5 + 10 / 111.19, 37, "NORTH10");
		await at(-1.5, 37 + 5 / 111.15, "EAST5");
		await at(-1.5 - 14.9 / 111.19, 37, "SOUTH14.9");
		await at(-1.5 - 15.1 / 111.19, 37, "SOUTH15.1");
		await at(-1.5 + 12 / 111.19, 37 + 12 / 111.19, "CORNER17");
		const found = await generatorsInReach(world.store, HERE);
		expect(found.map(({ code }) => code)).toEqual(["EAST5", "NORTH10", "SOUTH14.9"]);
		expect(found.map(({ distanceKm }) => Math.round(distanceKm * 10) / 10)).toEqual([5, 10, 14.9]);
		expect((await generatorsInReach(world.store, HERE, 18)).map(({ code }) => code)).toContain("CORNER17");
	});

	it("is found across the 180th meridian", async () => {
		await at(0, 179.95, "WEST");
		expect((await generatorsInReach(world.store, { latitudeDeg: 0, longitudeDeg: -179.95 })).map(({ code }) => code)).toEqual([
			"WEST",
		]);
	});

	it("is found among 5000 without a long wait", async () => {
		const rows = Array.from(
			{ length: 5000 },
			(_, i): GeneratorRow => ({
				...{ id: `many${i}`, code: `M${i}`, name: "Invented", areaId: "area", ratedCurrentA: 8.4, cellsInSeries: 3 },
				...{ currentEfficiency: 0.6, batchVolumeL: 5, saltGPerL: 30, inService: true, operatorId: null },
				...{ latitudeDeg: -60 + (i % 1000) * 0.1, longitudeDeg: 30 + Math.floor(i / 1000) },
			}),
		);
		await world.store.work.run(async (tx) => {
			for (let from = 0; from < rows.length; from += 500) await tx.manager.insert(GeneratorRow, rows.slice(from, from + 500));
		});
		const begun = performance.now();
		const found = await generatorsInReach(world.store, { latitudeDeg: -1.5, longitudeDeg: 32 });
		const ms = performance.now() - begun;
		expect(found.length).toBeGreaterThan(0);
		expect(found.length).toBeLessThan(10);
		// A few milliseconds on an idle machine; the bound only catches a look at every row's own statement.
		expect(ms).toBeLessThan(500);
	});
});
