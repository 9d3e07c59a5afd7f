import { DAY_MS } from "../../src/time/clock.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, START_MS } from "../support/world.js";
import { type Served, served } from "./served.js";

const batch = {
	code: "JAR-1",
	areaCode: "A1",
	keeperCode: "vol",
	madeAt: "2026-03-03T07:00:00+03:00",
	volumeL: 5,
	madeStrengthGPerL: 5,
	saltGPerL: 30,
	ph: 9,
	phKnowledge: "strip",
	wall: "opaque",
	exposure: "indoors",
};

onEachDatabase("a batch", (kind) => {
	let api: Served;
	let code: string;
	let made = 0;
	beforeAll(async () => {
		api = await served(kind);
	});
	// One database serves all: each test has a batch of its own, made when it begins.
	beforeEach(async () => {
		api.world.clock.moveTo(START_MS);
		code = `B${++made}`;
		await aBatch(api.world, code);
	});
	afterAll(() => api.close());
	const post = (url: string, body: unknown) => api.ask("POST", url, { body });

	it("is put on file with 201 and a first forecast in g/L, its instants in UTC", async () => {
		const { status, body } = await post("/batches", batch);
		expect(status).toBe(201);
		expect(body).toMatchObject({
			code: "JAR-1",
			keeperCode: "vol",
			generatorCode: null,
			madeAt: "2026-03-03T04:00:00.000Z",
			state: "in use",
		});
		// Made at 5 g/L an hour ago: nothing that matters can have been lost yet.
		expect(body.forecast.now.medianGPerL).toBeGreaterThan(4.9);
		expect(body.forecast.now.medianGPerL).toBeLessThanOrEqual(5);
		expect(Date.parse(body.forecast.retestAt)).toBeGreaterThanOrEqual(START_MS);
	});

	it.each([
		["an area that there isn't", { areaCode: "nowhere" }, "/areaCode"],
		["a keeper that there isn't", { keeperCode: "nobody" }, "/keeperCode"],
		["a generator that there isn't", { generatorCode: "none" }, "/generatorCode"],
		["a making of tomorrow", { madeAt: "2026-03-04T07:00:00Z" }, "/madeAt"],
		["a making of 1999", { madeAt: "1999-12-31T23:59:59Z" }, "/madeAt"],
		["20 g/L, which no small cell makes", { madeStrengthGPerL: 20 }, "/madeStrengthGPerL"],
		["a strength in mg/L", { madeStrengthGPerL: 5000 }, "/madeStrengthGPerL"],
		["a pH of 5, which gives off gas", { ph: 5 }, "/ph"],
		["a pH that nobody measured", { ph: 9, phKnowledge: "not measured" }, "/phKnowledge"],
		["a strip that read nothing", { ph: null, phKnowledge: "strip" }, "/phKnowledge"],
		["0 L", { volumeL: 0 }, "/volumeL"],
		["a code with a space", { code: "JAR 1" }, "/code"],
		["more than is known of a batch", { state: "in use" }, "/state"],
		["an id of one's own", { id: "x" }, "/id"],
	])("with %s is refused with 422 and isn't kept", async (_, over, pointer) => {
		const onFile = () => api.world.store.query("SELECT code FROM batch ORDER BY code");
		const before = await onFile();
		const { status, body } = await post("/batches", { ...batch, code: `X-${code}`, ...over });
		expect([status, body.errors?.[0]?.pointer]).toEqual([422, pointer]);
		expect(await onFile()).toEqual(before);
	});

	it("is told in full with its tests, its forecast of now and its curve from the making on", async () => {
		api.world.clock.advance(3 * DAY_MS);
		await post(`/batches/${code}/strength-tests`, { sampleMl: 1, madeUpToL: 2, reading: "2" });
		const { body } = await api.ask("GET", `/batches/${code}`);
		expect(body.tests).toEqual([
			expect.objectContaining({
				kit: "comparator 0-5",
				sampleMl: 1,
				madeUpToL: 2,
				reading: "2",
				lowGPerL: 3,
				highGPerL: 5,
				testedAt: "2026-03-06T05:00:00.000Z",
			}),
		]);
		expect(body.curve[0].at).toBe("2026-03-03T05:00:00.000Z");
		const medians = body.curve.map(({ medianGPerL }: { medianGPerL: number }) => medianGPerL);
		expect(medians).toEqual([...medians].sort((a, b) => b - a));
		expect(body.forecast.now.at).toBe("2026-03-06T05:00:00.000Z");
	});

	it("that isn't on file is 404 for whatever is asked of it", async () => {
		expect((await api.ask("GET", "/batches/NONE")).status).toBe(404);
		expect((await api.ask("GET", "/batches/NONE/dose?waterL=20&turbidity=clear")).status).toBe(404);
		expect((await post("/batches/NONE/strength-tests", { sampleMl: 1, madeUpToL: 2, reading: "2" })).status).toBe(404);
	});

	it("that is tested before anybody asks has its open task answered by the test", async () => {
		await api.world.live(30, DAY_MS);
		const { status } = await post(`/batches/${code}/strength-tests`, {
			sampleMl: 1,
			madeUpToL: 2,
			reading: "2",
			testerCode: "vol",
		});
		expect(status).toBe(201);
		const { items } = (await api.ask("GET", "/tasks?state=done")).body;
		expect(items).toHaveLength(1);
		expect((await api.ask("GET", `/tasks/${items[0].code}`)).body).toMatchObject({ brief: { jar: code }, closedByCode: "vol" });
	});

	it.each([
		["a reading between two colours", { sampleMl: 1, madeUpToL: 2, reading: "2.5" }, "/reading"],
		["no reading", { sampleMl: 1, madeUpToL: 2 }, "/reading"],
		["less mixture than sample", { sampleMl: 10, madeUpToL: 0.005, reading: "2" }, "/madeUpToL"],
		["no sample", { sampleMl: 0, madeUpToL: 2, reading: "2" }, "/sampleMl"],
		["a tester that there isn't", { sampleMl: 1, madeUpToL: 2, reading: "2", testerCode: "nobody" }, "/testerCode"],
		["a test before the making", { sampleMl: 1, madeUpToL: 2, reading: "2", testedAt: "2026-03-01T00:00:00Z" }, "/testedAt"],
		["a test of tomorrow", { sampleMl: 1, madeUpToL: 2, reading: "2", testedAt: "2026-03-05T00:00:00Z" }, "/testedAt"],
	])("takes no test with %s", async (_, test, pointer) => {
		const { status, body } = await post(`/batches/${code}/strength-tests`, test);
		expect([status, body.errors?.[0]?.pointer]).toEqual([422, pointer]);
		expect((await api.ask("GET", `/batches/${code}`)).body.tests).toEqual([]);
	});

	it("takes no test with a kit that there isn't, and says which there are", async () => {
		const { status, body } = await post(`/batches/${code}/strength-tests`, {
			kit: "tongue",
			sampleMl: 1,
			madeUpToL: 2,
			reading: "2",
		});
		expect([status, body.code]).toEqual([422, "unknown-kit"]);
		expect(body.detail).toContain("comparator 0-5");
	});

	it("of fresh 5 g/L gives 20 L of clear water about 7.5 mL and cloudy water about double (1.875 and 3.75 mg/L: Lantagne 2008, J AWWA 100(8):106)", async () => {
		const clear = (await api.ask("GET", `/batches/${code}/dose?waterL=20&turbidity=clear`)).body;
		const cloudy = (await api.ask("GET", `/batches/${code}/dose?waterL=20&turbidity=cloudy`)).body;
		expect([clear.kind, cloudy.kind]).toEqual(["dose", "dose"]);
		expect([clear.plannedDoseMgPerL, cloudy.plannedDoseMgPerL]).toEqual([1.875, 3.75]);
		// 1.875 mg/L x 20 L / 5 g/L = 7.5 mL (computed independently); the syringe shows halves.
		expect(Math.abs(clear.exactVolumeMl - 7.5)).toBeLessThan(0.1);
		expect((clear.volumeMl * 2) % 1).toBe(0);
		expect(clear.contactMinutes).toBeGreaterThanOrEqual(30);
	});

	it("gives very turbid water no dose, and says why", async () => {
		expect((await api.ask("GET", `/batches/${code}/dose?waterL=20&turbidity=very%20turbid`)).body).toEqual({
			kind: "refused",
			reason: "tooTurbid",
		});
	});

	it.each([
		"waterL=20",
		"turbidity=clear",
		"waterL=0&turbidity=clear",
		"waterL=-20&turbidity=clear",
		"waterL=1001&turbidity=clear",
		"waterL=&turbidity=clear",
		"waterL=Infinity&turbidity=clear",
		"waterL=20&turbidity=muddy",
		"waterL=20&waterL=10&turbidity=clear",
		"waterL=20&turbidity=clear&x=1",
	])("tells no dose for %s", async (query) => {
		expect((await api.ask("GET", `/batches/${code}/dose?${query}`)).status).toBe(422);
	});
});

onEachDatabase("what is done to a household's water", (kind) => {
	let api: Served;
	beforeAll(async () => {
		api = await served(kind);
		await aBatch(api.world);
		await api.world.store.work.run(async (tx) => {
			await tx.query(
				"INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity) VALUES ('h1', 'H1', 'area', 'vol', 5, 'well', 'clear')",
			);
			await tx.query(
				"INSERT INTO container (id, code, household_id, volume_l, kind) VALUES ('c1', 'C1', 'h1', 20, 'narrow mouth')",
			);
		});
	});
	afterAll(() => api.close());

	it("is kept: a dose with its mg/L by the batch's strength, and a check with the hours since it", async () => {
		const dose = await api.ask("POST", "/doses", { body: { containerCode: "C1", batchCode: "B1", waterL: 20, bleachMl: 7.5 } });
		expect([dose.status, dose.body.dosedAt]).toEqual([201, "2026-03-03T05:00:00.000Z"]);
		// 7.5 mL x 5 g/L / 20 L = 1.875 mg/L (computed independently)
		expect(Math.abs(dose.body.doseMgPerL - 1.875)).toBeLessThan(0.03);
		api.world.clock.advance(DAY_MS / 4);
		const check = await api.ask("POST", "/residual-checks", {
			body: { containerCode: "C1", freeChlorineMgPerL: 0.8, checkerCode: "vol" },
		});
		expect(check.status).toBe(201);
		expect(check.body).toMatchObject({ freeChlorineMgPerL: 0.8, hoursSinceDose: 6, checkedAt: "2026-03-03T11:00:00.000Z" });
	});

	it.each([
		["more water than the container holds", { waterL: 25 }, 422, "/waterL"],
		["no bleach", { bleachMl: 0 }, 422, "/bleachMl"],
		["a batch that there isn't", { batchCode: "NONE" }, 404, "/batchCode"],
		["a container that there isn't", { containerCode: "NONE" }, 404, "/containerCode"],
		["a dose of tomorrow", { dosedAt: "2026-03-04T05:00:00Z" }, 422, "/dosedAt"],
		["a dose before the making", { dosedAt: "2026-03-01T05:00:00Z" }, 422, "/dosedAt"],
		["a dose that somebody else has worked out", { doseMgPerL: 2 }, 422, "/doseMgPerL"],
	])("isn't kept with %s", async (_, over, status, pointer) => {
		const answer = await api.ask("POST", "/doses", {
			body: { containerCode: "C1", batchCode: "B1", waterL: 20, bleachMl: 7.5, ...over },
		});
		expect([answer.status, answer.body.errors?.[0]?.pointer]).toEqual([status, pointer]);
	});

	it.each([
		["a negative reading", { freeChlorineMgPerL: -0.1 }, 422, "/freeChlorineMgPerL"],
		["a reading as text", { freeChlorineMgPerL: "0.5" }, 422, "/freeChlorineMgPerL"],
		["a reading of tomorrow", { checkedAt: "2026-03-04T05:00:00Z" }, 422, "/checkedAt"],
		["a checker that there isn't", { checkerCode: "nobody" }, 422, "/checkerCode"],
		["a container that there isn't", { containerCode: "NONE" }, 404, "/containerCode"],
	])("isn't kept with %s", async (_, over, status, pointer) => {
		const answer = await api.ask("POST", "/residual-checks", { body: { containerCode: "C1", freeChlorineMgPerL: 0.5, ...over } });
		expect([answer.status, answer.body.errors?.[0]?.pointer]).toEqual([status, pointer]);
	});
});
