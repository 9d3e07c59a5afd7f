import { DAY_MS } from "../../src/time/clock.js";
import { HouseholdProtocols } from "../../src/water/protocol/household-protocol.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, START_MS } from "../support/world.js";
import { type Served, served } from "./served.js";

onEachDatabase("a household's water", (kind) => {
	let api: Served;
	beforeAll(async () => {
		api = await served(kind);
		await aBatch(api.world);
		await api.world.store.work.run((tx) =>
			tx.query(
				`INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity) VALUES
				 ('h1', 'H1', 'area', 'vol', 6, 'spring', 'clear'), ('h2', 'H2', 'area', 'vol', 2, 'river', 'very turbid')`,
			),
		);
	});
	afterAll(() => api.close());
	const post = (url: string, body: unknown = {}) => api.ask("POST", url, { body });
	const water = async (code = "H1") => (await api.ask("GET", `/households/${code}/water`)).body;
	const counts = () =>
		api.world.store.query(
			"SELECT (SELECT count(*) FROM container) AS c, (SELECT count(*) FROM household_water) AS h, (SELECT count(*) FROM container_cleaning) AS k, (SELECT count(*) FROM due) AS d",
		);

	it("has containers put on file by code, volume and kind, whose reading and cleaning become due by themselves", async () => {
		const { status, body } = await post("/households/H1/containers", { code: "C1", volumeL: 20, kind: "narrow mouth" });
		expect(status).toBe(201);
		expect(body.containers).toMatchObject([{ code: "C1", volumeL: 20, kind: "narrow mouth", lastCleanedAt: null }]);
		const { nextCleaningAt, water: stored } = body.containers[0];
		for (const at of [nextCleaningAt, stored.nextCheckAt]) expect(Date.parse(at)).toBeGreaterThan(START_MS);
		expect(Date.parse(nextCleaningAt)).toBeLessThanOrEqual(START_MS + 7 * DAY_MS);
		expect(Date.parse(stored.nextCheckAt)).toBeLessThanOrEqual(START_MS + 14 * DAY_MS);
		await post("/households/H1/containers", { code: "C2", volumeL: 10, kind: "tap", lastCleanedOn: "2026-03-02" });
	});

	// 6 persons x 5.3 L = 31.8 L a day, 222.6 L a week; 1.875 mg/L x 222.6 L / 5 g/L = 83.48 mL (tests/published/water-need.json, row B3).
	it("tells litres to treat, how long 30 L last, fills and bleach a week, and today's dose of each container from the jar at hand", async () => {
		const body = await water();
		expect(body).toMatchObject({ persons: 6, storedL: 30, refillEveryHours: 24, plannedDoseMgPerL: 1.875, jar: { code: "B1" } });
		expect(body.treatedLitresPerDay).toBeCloseTo(31.8, 6);
		expect(body.storageDays).toBeCloseTo(30 / 31.8, 6);
		expect(Math.abs(body.bleachMlPerWeek - 83.48)).toBeLessThan(1);
		const fills = body.containers.map(({ fillsPerWeek }: { fillsPerWeek: number }) => fillsPerWeek);
		expect(fills[0]).toBeCloseTo(222.6 / 30, 6);
		const doses: { exactVolumeMl: number; volumeMl: number }[] = body.containers.map(
			({ doseOfAFullContainer }: { doseOfAFullContainer: unknown }) => doseOfAFullContainer,
		);
		// 1.875 mg/L x 20 L / 5 g/L = 7.5 mL, half of it in 10 L (computed independently); measured in halves, and enough at the weak end.
		expect(doses[0]?.exactVolumeMl).toBeCloseTo(7.5, 1);
		expect(doses[1]?.exactVolumeMl).toBeCloseTo(3.75, 1);
		for (const { exactVolumeMl, volumeMl } of doses) expect(volumeMl - exactVolumeMl).toBeLessThan(0.6);
	});

	// 1.5 mL/L x 5 g/L = 7.5 mg/L; 7.5 x 20 / 5 = 30 mL, doubled 60 mL (computed independently).
	it("tells the dose of its own protocol: the field card's 30 mL, doubled in cloudy water, more of weaker bleach, and read before anybody drinks", async () => {
		const move = { code: "field-card", version: 1, actor: "sup", why: "a test asks for it" };
		await api.world.the(HouseholdProtocols).move(["h1"], move);
		const body = await water();
		expect(body).toMatchObject({ protocol: { code: "field-card", drinkFrom: "fitReading" }, plannedDoseMgPerL: 7.5 });
		expect(body.containers[0].doseOfAFullContainer).toMatchObject({ kind: "doseThenCheck", volumeMl: 30, doubled: false });
		await api.world.store.work.run((tx) => tx.affected("UPDATE household SET turbidity = 'cloudy' WHERE id = 'h1'"));
		const cloudy = await water();
		expect(cloudy.treatFirst).toEqual(["Filter cloudy water through clean cloth folded in layers."]);
		expect(cloudy.containers[0].doseOfAFullContainer).toMatchObject({ plannedDoseMgPerL: 15, volumeMl: 60, doubled: true });
		await aBatch(api.world, "B2", { madeStrengthGPerL: 4 });
		await api.world.store.work.run((tx) => tx.affected("UPDATE batch SET household_id = 'h1' WHERE code = 'B2'"));
		// The jar that stands in the household: 15 mg/L x 20 L / 4 g/L = 75 mL.
		const weaker = (await water()).containers[0].doseOfAFullContainer;
		expect(Math.abs(weaker.exactVolumeMl - 75)).toBeLessThan(1);
		await api.world.store.work.run((tx) => tx.affected("UPDATE household SET turbidity = 'clear' WHERE id = 'h1'"));
		await api.world.store.work.run((tx) => tx.affected("UPDATE batch SET state = 'discarded' WHERE code = 'B2'"));
		await api.world.the(HouseholdProtocols).move(["h1"], { ...move, code: "two-dose" });
	});

	it("of a river over 100 NTU gets no dose before it is cleared, and no bleach a week", async () => {
		const body = await water("H2");
		expect(body).toMatchObject({ bleachMlPerWeek: null, plannedDoseMgPerL: null, storageDays: 0 });
		expect(body.treatFirst[0]).toMatch(/^Don't add bleach\. Settle, filter or flocculate/);
	});

	it("follows its habits: 2 L for drinking and none for food are 12 L a day; the river of March is cloudy and gets 3.75 mg/L", async () => {
		const season = { fromMonth: 11, untilMonth: 3, source: "river", turbidity: "cloudy" };
		const body = { drinkingLPerPersonDay: 2, foodLPerPersonDay: 0, refillEveryHours: 48, season };
		const told = await api.ask("PUT", "/households/H1/habits", { body });
		expect(told.body).toMatchObject({
			...{ waterSource: "river", turbidity: "cloudy", isSeason: true, refillEveryHours: 48, plannedDoseMgPerL: 3.75 },
			treatedLitresPerDay: 12,
		});
		const back = await api.ask("PUT", "/households/H1/habits", { body: {} });
		expect(back.body).toMatchObject({ waterSource: "spring", turbidity: "clear", isSeason: false, refillEveryHours: 24 });
	});

	it("tells what stands in a container: after the wait, then drinkable, then what was read, and that it was cleaned", async () => {
		expect((await post("/doses", { containerCode: "C1", batchCode: "B1", waterL: 20, bleachMl: 7.5 })).body).toMatchObject({
			...{ state: "open", readBeforeDrinking: false, protocol: { code: "two-dose", version: 1 } },
			waitEndsAt: new Date(START_MS + 1_800_000).toISOString(),
		});
		expect((await water()).containers[0].water).toMatchObject({ drinkable: "after the wait" });
		api.world.clock.advance(1_800_000);
		const read = await post("/residual-checks", { containerCode: "C1", freeChlorineMgPerL: 0.1, ph: 7.2, waterTemperatureC: 24 });
		expect(read.body).toMatchObject({
			...{ counted: true, fitToDrink: false, band: "too-low", action: "dose-once-more", bleachMl: 3.5, jar: "B1", flags: [] },
			protocol: "two-dose 1",
		});
		expect((await water()).containers[0].water).toMatchObject({
			drinkable: "after a fit reading",
			lastReading: { freeChlorineMgPerL: 0.1 },
		});
		expect((await post("/containers/C1/emptied")).body).toEqual({ containerCode: "C1", doseClosed: true });
		const cleaned = await post("/containers/C1/cleanings", { cleanerCode: "vol" });
		expect(cleaned.status).toBe(201);
		expect(Date.parse(cleaned.body.nextCleaningAt) - api.world.clock.nowMs()).toBe(7 * DAY_MS);
		expect((await water()).containers[0].cleanings).toMatchObject([{ cleanerCode: "vol" }]);
	});

	it.each([
		// 2 persons x 140 L: a week of 20 L a day each (MSF).
		[
			"a container of 281 L for two persons",
			"POST",
			"/households/H2/containers",
			{ code: "X1", volumeL: 281, kind: "tap" },
			422,
			"/volumeL",
		],
		["a container of 0 L", "POST", "/households/H2/containers", { code: "X1", volumeL: 0, kind: "tap" }, 422, "/volumeL"],
		["a kind that there isn't", "POST", "/households/H2/containers", { code: "X1", volumeL: 20, kind: "sack" }, 422, "/kind"],
		["a code that is taken", "POST", "/households/H2/containers", { code: "C1", volumeL: 20, kind: "tap" }, 409, "/code"],
		[
			"a cleaning of tomorrow on file",
			"POST",
			"/households/H2/containers",
			{ code: "X1", volumeL: 20, kind: "tap", lastCleanedOn: "2026-03-04" },
			422,
			"/lastCleanedOn",
		],
		[
			"a household that there isn't",
			"POST",
			"/households/NONE/containers",
			{ code: "X1", volumeL: 20, kind: "tap" },
			404,
			undefined,
		],
		["habits of 21 L to drink", "PUT", "/households/H1/habits", { drinkingLPerPersonDay: 21 }, 422, "/drinkingLPerPersonDay"],
		[
			"a season of month 13",
			"PUT",
			"/households/H1/habits",
			{ season: { fromMonth: 13, untilMonth: 1, turbidity: "clear" } },
			422,
			"/season/fromMonth",
		],
		[
			"a season without turbidity",
			"PUT",
			"/households/H1/habits",
			{ season: { fromMonth: 1, untilMonth: 2 } },
			422,
			"/season/turbidity",
		],
		["a refill every 0 h", "PUT", "/households/H1/habits", { refillEveryHours: 0 }, 422, "/refillEveryHours"],
		["habits of nobody", "PUT", "/households/NONE/habits", {}, 404, undefined],
		["a cleaning of tomorrow", "POST", "/containers/C2/cleanings", { cleanedAt: "2026-03-05T00:00:00Z" }, 422, "/cleanedAt"],
		["a cleaner that there isn't", "POST", "/containers/C2/cleanings", { cleanerCode: "nobody" }, 422, "/cleanerCode"],
		["a cleaning of a container that there isn't", "POST", "/containers/NONE/cleanings", {}, 404, undefined],
		["an emptying of tomorrow", "POST", "/containers/C2/emptied", { emptiedAt: "2026-03-05T00:00:00Z" }, 422, "/emptiedAt"],
	] as const)("refuses %s, and keeps nothing", async (_, method, url, body, status, pointer) => {
		const before = await counts();
		const answer = await api.ask(method, url, { body });
		expect([answer.status, pointer === undefined ? undefined : answer.body.errors?.[0]?.pointer]).toEqual([status, pointer]);
		expect(await counts()).toEqual(before);
	});
});
