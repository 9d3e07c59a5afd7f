import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import { aGenerator, emptied } from "../generators/given.js";
import { onEachDatabase } from "../support/stores.js";
import { START_MS } from "../support/world.js";
import { type Served, served } from "./served.js";

onEachDatabase("a generator over the interface", (kind) => {
	let api: Served;
	beforeAll(async () => {
		api = await served(kind);
	});
	beforeEach(async () => {
		api.world.clock.moveTo(START_MS);
		await emptied(api.world);
		await aGenerator(api.world);
	});
	afterAll(() => api.close());
	const post = (url: string, body: unknown) => api.ask("POST", url, { body });
	const run = (over: object = {}) => ({
		startedAt: "2026-03-03T06:30:00+03:00",
		endedAt: "2026-03-03T07:45:00+03:00",
		saltG: 150,
		waterL: 5,
		powerSource: "battery",
		batteryCode: "BAT-1",
		currentA: 8.4,
		gasSeen: true,
		...over,
	});
	const battery = (over: object = {}) =>
		post("/batteries", {
			code: "BAT-1",
			areaCode: "A1",
			generatorCode: "G1",
			ratedAh: 70,
			since: "2026-03-01T00:00:00Z",
			...over,
		});

	it("takes a run, names it and the batch that it filled, and tells both in full with efficiency, life and next care", async () => {
		await battery();
		const { status, body } = await post("/generators/G1/runs", run());
		expect([status, body]).toEqual([
			201,
			{
				code: "G1.260303-0630",
				generatorCode: "G1",
				startedAt: "2026-03-03T03:30:00.000Z",
				endedAt: "2026-03-03T04:45:00.000Z",
				batchCode: "G1-260303",
			},
		]);
		expect((await api.ask("GET", "/batches/G1-260303")).body).toMatchObject({
			generatorCode: "G1",
			keeperCode: null,
			madeStrengthGPerL: 5,
			madeStrengthLnSd: 0.2,
		});
		// 25 drops of 0.2 g/L: 4.8 to 5.0 g/L.
		await post("/batches/G1-260303/strength-tests", {
			kit: "drop count",
			sampleMl: 1,
			madeUpToL: 1,
			reading: "25",
			testerCode: "vol",
		});
		const full = (await api.ask("GET", "/generators/G1")).body;
		expect(full).toMatchObject({
			runsEver: 1,
			hoursEver: 1.25,
			inService: true,
			operatorCode: "vol",
			batteries: [{ code: "BAT-1" }],
		});
		// Source: Faraday's law, 1.3228 g/(A h): sqrt(4.8*5.0) g/L in 5 L from 3 cells, 8.4 A, 1.25 h.
		expect(full.efficiency.points[0].efficiency).toBeCloseTo((Math.sqrt(24) * 5) / (1.3228 * 3 * 8.4 * 1.25), 3);
		expect(full.efficiency.verdict).toBe("too few runs");
		// 1.25 h of a life of 4000 to 8000 h.
		expect(full.electrode.lowHoursLeft).toBeCloseTo(3998.75, 0);
		expect(full.electrode.highHoursLeft).toBeCloseTo(7998.75, 0);
		expect(full.nextCare[0]).toEqual({
			item: "rinse",
			dueAt: "2026-03-03T04:45:00.000Z",
			reason: "after the run",
			figure: 1,
			limit: 1,
		});
		expect(full.runs[0]).toMatchObject({ batchCode: "G1-260303", testLowGPerL: expect.closeTo(4.8, 6), testHighGPerL: 5 });
		// Peukert: 70 A h at 20 h, exponent 1.2: 20*(70/(8.4*20))^1.2 = 6.989 h at 8.4 A; 1.25 h draw 0.179.
		expect(full.batteries[0].charge).toMatchObject({
			knownFrom: "new",
			drawnShare: expect.closeTo(1.25 / (20 * (70 / 168) ** 1.2), 6),
		});
	});

	it("takes the beginning of a run, and its end later", async () => {
		expect(
			(await post("/generators/G1/runs", run({ endedAt: undefined, powerSource: "mains", batteryCode: undefined }))).body,
		).toMatchObject({ endedAt: null, batchCode: null });
		expect(
			(
				await post(
					"/generators/G1/runs",
					run({
						startedAt: "2026-03-03T04:40:00Z",
						endedAt: "2026-03-03T04:50:00Z",
						powerSource: "mains",
						batteryCode: undefined,
					}),
				)
			).status,
		).toBe(409);
		const ended = await post("/generators/G1/runs/end", { endedAt: "2026-03-03T04:45:00Z", rinsed: true });
		expect([ended.status, ended.body.batchCode]).toEqual([200, "G1-260303"]);
		expect((await post("/generators/G1/runs/end", {})).status).toBe(409);
		expect((await api.ask("GET", "/generators/G1")).body.nextCare.map(({ item }: { item: string }) => item)).not.toContain(
			"rinse",
		);
	});

	it.each<[string, object, number, string]>([
		["that ends before it starts", { endedAt: "2026-03-03T03:00:00Z" }, 422, "/endedAt"],
		["in the future", { endedAt: "2026-03-03T09:00:00Z" }, 422, "/endedAt"],
		["of an operator that there isn't", { operatorCode: "nobody" }, 422, "/operatorCode"],
		["on a battery that there isn't", { batteryCode: "NONE" }, 422, "/batteryCode"],
		["on the mains with a battery", { powerSource: "mains" }, 422, "/batteryCode"],
		["of 7 L in a vessel of 5 L", { waterL: 7 }, 422, "/waterL"],
		["of 1 g of salt", { saltG: 1 }, 422, "/saltG"],
		["of 40 A where 8.4 A are rated", { currentA: 40 }, 422, "/currentA"],
		["of 25 V at rest", { restVoltageV: 25 }, 422, "/restVoltageV"],
		["that mends a run that there isn't", { furtherOfRun: "NONE" }, 422, "/furtherOfRun"],
		["from the wind", { powerSource: "wind" }, 422, "/powerSource"],
		["with more than is known of runs", { id: "x" }, 422, "/id"],
	])("refuses a run %s, names the field and keeps nothing", async (_, over, status, pointer) => {
		await battery();
		const answer = await post("/generators/G1/runs", run(over));
		expect([answer.status, answer.body.errors?.[0]?.pointer]).toEqual([status, pointer]);
		expect(await api.world.store.query("SELECT id FROM generator_run")).toEqual([]);
		expect(await api.world.store.query("SELECT id FROM batch")).toEqual([]);
	});

	it("that there isn't is 404 for whatever is asked of it", async () => {
		expect((await api.ask("GET", "/generators/NONE")).status).toBe(404);
		for (const [path, body] of [
			["runs", run()],
			["runs/end", {}],
			["care", { works: ["rinsed"] }],
			["out-of-service", { reason: "broken" }],
			["in-service", {}],
		] as const)
			expect([path, (await post(`/generators/NONE/${path}`, body)).status]).toEqual([path, 404]);
		expect((await post("/batteries/NONE/readings", { restVoltageV: 12 })).status).toBe(404);
		expect((await post("/kit-lots/NONE/opened", { openedOn: "2026-03-01" })).status).toBe(404);
	});

	it("goes out of service and comes back; runs in between are refused", async () => {
		expect((await post("/generators/G1/out-of-service", { reason: "cable broken" })).body).toMatchObject({ inService: false });
		expect((await post("/generators/G1/out-of-service", { reason: "again" })).status).toBe(409);
		api.world.clock.advance(DAY_MS);
		const during = {
			startedAt: "2026-03-03T10:00:00Z",
			endedAt: "2026-03-03T11:15:00Z",
			powerSource: "mains",
			batteryCode: undefined,
		};
		const refused = await post("/generators/G1/runs", run(during));
		expect([refused.status, refused.body.errors[0].pointer]).toEqual([409, "/startedAt"]);
		expect((await post("/generators/G1/in-service", { at: "2026-03-01T00:00:00Z" })).body.errors[0].pointer).toBe("/at");
		expect((await post("/generators/G1/in-service", {})).body).toMatchObject({ inService: true });
		expect((await post("/generators/G1/in-service", {})).status).toBe(409);
		expect((await api.ask("GET", "/generators/G1")).body.outages).toEqual([
			{ from: "2026-03-03T05:00:00.000Z", until: "2026-03-04T05:00:00.000Z", reason: "cable broken" },
		]);
	});

	it("keeps care, and refuses care of tomorrow and a look without a look", async () => {
		expect((await post("/generators/G1/care", { works: ["descaled", "inspected"], look: "scale" })).status).toBe(201);
		expect(
			(await post("/generators/G1/care", { works: ["rinsed"], doneAt: "2026-03-09T00:00:00Z" })).body.errors[0].pointer,
		).toBe("/doneAt");
		expect((await post("/generators/G1/care", { works: ["rinsed"], look: "clean" })).body.errors[0].pointer).toBe("/look");
		expect((await post("/generators/G1/care", { works: ["polished"] })).body.errors[0].pointer).toBe("/works/0");
		expect(await api.world.store.query("SELECT count(*) AS n FROM generator_care")).toEqual([{ n: 2 }]);
	});

	it("has batteries whose charge follows from readings, runs and charging; a reading outside 0 to 20 V is refused", async () => {
		await battery();
		expect((await battery()).status).toBe(409);
		// Source: trade table, 12.24 V is half full; 15 points either way for the meter, and two more tables (published/making.json).
		const { body } = await post("/batteries/BAT-1/readings", { restVoltageV: 12.24, byPersonCode: "vol" });
		expect(body).toMatchObject({
			charge: { share: 0.5, knownFrom: "reading" },
			lastReading: { restVoltageV: 12.24, restHours: 6 },
		});
		expect(body.charge.lowShare).toBeLessThanOrEqual(0.35);
		expect(body.charge.highShare).toBeGreaterThanOrEqual(0.65);
		for (const restVoltageV of [-0.1, 20.1]) {
			const refused = await post("/batteries/BAT-1/readings", { restVoltageV });
			expect([refused.status, refused.body.errors[0].pointer]).toEqual([422, "/restVoltageV"]);
		}
		// A voltage that hadn't rested tells nothing of the charge.
		expect((await post("/batteries/BAT-1/readings", { restVoltageV: 11, restHours: 1 })).body.charge.share).toBe(0.5);
		api.world.clock.advance(HOUR_MS);
		expect((await post("/batteries/BAT-1/care", { work: "charged" })).body.charge).toMatchObject({
			share: 1,
			knownFrom: "charged",
		});
		const replaced = await post("/batteries/BAT-1/care", { work: "replaced" });
		expect(replaced.body).toMatchObject({ code: "BAT-1.2", ratedAh: 70, inUse: true, charge: { share: 1, knownFrom: "new" } });
		expect((await post("/batteries/BAT-1/readings", { restVoltageV: 12 })).status).toBe(409);
		expect(
			(await api.ask("GET", "/batteries?generator=G1")).body.items.map(({ code, inUse }: { code: string; inUse: boolean }) => [
				code,
				inUse,
			]),
		).toEqual([
			["BAT-1", false],
			["BAT-1.2", true],
		]);
		expect((await battery({ code: "BAT-9", generatorCode: "NONE" })).body.errors[0].pointer).toBe("/generatorCode");
		expect((await battery({ code: "BAT-9", since: "2026-04-01T00:00:00Z" })).body.errors[0].pointer).toBe("/since");
	});

	it("is tested with reagent of lots that expire; one opened before it was received, or expired by then, is refused", async () => {
		const lot = (over: object = {}) =>
			post("/kit-lots", {
				code: "KIT-1",
				kit: "comparator 0-5",
				lot: "L77",
				areaCode: "A1",
				holderCode: "vol",
				receivedOn: "2026-01-10",
				expiresOn: "2027-01-01",
				...over,
			});
		expect((await lot()).body).toMatchObject({
			useUntilOn: "2027-01-01",
			useUntilReason: "expiry",
			renewAt: "2026-12-17T21:00:00.000Z",
		});
		// Opened, it is trusted for 180 days: until 4 August.
		expect((await post("/kit-lots/KIT-1/opened", { openedOn: "2026-02-05" })).body).toMatchObject({
			useUntilOn: "2026-08-04",
			useUntilReason: "opened",
		});
		const bad: [object, string][] = [
			[{ openedOn: "2026-01-09" }, "/openedOn"],
			[{ expiresOn: "2026-01-10" }, "/expiresOn"],
			[{ kit: "litmus" }, "/kit"],
			[{ holderCode: "nobody" }, "/holderCode"],
			[{ receivedOn: "10.1.2026" }, "/receivedOn"],
		];
		for (const [over, pointer] of bad) {
			const refused = await lot({ code: "KIT-2", ...over });
			expect([refused.status, refused.body.errors[0].pointer]).toEqual([422, pointer]);
		}
		expect((await post("/kit-lots/KIT-1/opened", { openedOn: "2026-01-01" })).body.errors[0].pointer).toBe("/openedOn");
		expect((await lot()).status).toBe(409);
		expect(await api.world.store.query("SELECT code, opened_on FROM kit_lot")).toEqual([
			{ code: "KIT-1", openedOn: "2026-02-05" },
		]);
		expect((await api.ask("GET", "/kit-lots?holder=vol&state=in%20use")).body.items).toHaveLength(1);
	});

	it("closes the open task for its care once the office says that all was done", async () => {
		await battery();
		await post("/generators/G1/runs", run());
		api.world.clock.advance(HOUR_MS);
		await api.world.sweep.openDue();
		await post("/generators/G1/care", { works: ["rinsed"], byPersonCode: "vol" });
		const care = (await api.world.tasks()).filter((task) => task.kind === "care for generator");
		expect(care.map(({ state }) => state)).toEqual(["withdrawn"]);
	});
});
