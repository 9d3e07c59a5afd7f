import { GeneratorRecords } from "../../src/duties/generator-records.js";
import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import { dueOf, emptied, wait } from "../generators/given.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, settle, type World } from "../support/world.js";

onEachDatabase("a lot of reagent", (kind) => {
	let world: World;
	beforeAll(async () => {
		world = await newWorld(kind);
		await settle(world);
	});
	beforeEach(() => emptied(world));
	afterAll(() => world.remove());

	const text = (body: string) =>
		world.replies.receive({ channel: "sms", channelMessageId: `m${Math.random()}`, fromAddress: "+447700900002", body });
	const open = async () => (await world.tasks()).find((task) => task.kind === "renew reagent" && task.state === "open");
	const daysAhead = (days: number) => new Date(world.clock.nowMs() + days * DAY_MS).toISOString().slice(0, 10);
	const lot = (over: object = {}) =>
		world.the(GeneratorRecords).lot({
			...{ code: "KIT-1", kit: "comparator 0-5", lot: "L77", areaId: "area", holderId: "vol" },
			...{ receivedOn: daysAhead(-30), expiresOn: daysAhead(20), openedOn: null, ...over },
		});

	it("is renewed 14 days before it expires; the new one is put on file by its month of expiry", async () => {
		await lot();
		await world.live(5);
		expect(await open()).toBeUndefined();
		await world.live(1.5);
		const task = (await open())!;
		expect(task.assigneeId).toBe("vol");
		expect(world.kinds.named("renew reagent").instructions(JSON.parse(task.brief)).why).toContain(
			`expires on ${JSON.parse(task.brief).expiresOn}`,
		);
		expect(await text(`${task.code} 2713`)).toMatchObject({ outcome: "refused" });
		expect(await text(`${task.code} 2501`)).toMatchObject({ outcome: "refused" });
		expect(await text(`${task.code} 2806`)).toMatchObject({ outcome: "accepted" });
		expect(await world.store.query("SELECT code, state, expires_on, holder_id FROM kit_lot ORDER BY code")).toEqual([
			{ code: "KIT-1", state: "replaced", expiresOn: expect.any(String), holderId: "vol" },
			{ code: "KIT-1.2", state: "in use", expiresOn: "2028-07-01", holderId: "vol" },
		]);
		expect((await dueOf(world, "renew reagent")).map(({ dueAtMs }) => dueAtMs)).toContain(null);
	});

	it("that was opened is renewed before 180 days are over; answered DONE, the supervisor puts the new one on file", async () => {
		await lot({ openedOn: daysAhead(-163), receivedOn: daysAhead(-200), expiresOn: daysAhead(400) });
		expect(await open()).toBeUndefined();
		await world.live(3.5);
		const task = (await open())!;
		expect(JSON.parse(task.brief)).toMatchObject({ reason: "opened", useUntilOn: daysAhead(13) });
		await text(`${task.code} DONE`);
		expect(
			(await world.messages())
				.filter(({ text: name }) => name === "reagent.new.supervisor")
				.map(({ recipientId }) => recipientId),
		).toEqual(["sup"]);
		await world.live(30, DAY_MS);
		expect(await open()).toBeUndefined();
	});
});

onEachDatabase("two testers of one jar", (kind) => {
	let world: World;
	beforeAll(async () => {
		world = await newWorld(kind);
		await settle(world);
		await world.store.work.run((tx) =>
			tx.query(
				`INSERT INTO person (id, code, role, name, phone_e164, language, area_id, supervisor_id, working_days, quiet_from, quiet_until, channels, active)
				 VALUES ('two', 'two', 'volunteer', $2, $3, 'en', 'area', 'sup', '[1,2,3,4,5,6,7]', '20:00', '06:00', '[]', $1)`,
				[true, "Invented Second", "+447700900003"],
			),
		);
	});
	beforeEach(async () => {
		await emptied(world);
		await aBatch(world);
	});
	afterAll(() => world.remove());

	const test = (testerId: string, reading: string, waterL = 2) =>
		world.readings.record("B1", {
			testedAtMs: world.clock.nowMs(),
			testerId,
			kit: "comparator 0-5",
			sampleMl: 1,
			madeUpToL: waterL,
			reading,
		});
	const open = async () => (await world.tasks()).filter((task) => task.kind === "compare tests" && task.state === "open");
	const text = (body: string, from: string) =>
		world.replies.receive({ channel: "sms", channelMessageId: `m${Math.random()}`, fromAddress: from, body });

	it("who read 4 to 7 and 1 to 3 g/L within hours test it together; alike then, the supervisor is told so", async () => {
		// 3 at 1 mL in 2 L: 5 to 7 g/L; 1: 1 to 3 g/L. ln(5/3)/sqrt(2*0.15^2) = 2.41 standard deviations.
		await test("vol", "3");
		wait(world, 5 * HOUR_MS);
		await test("two", "1");
		await world.sweep.openDue();
		const tasks = await open();
		expect(tasks.map(({ assigneeId }) => assigneeId).sort()).toEqual(["two", "vol"]);
		const own = tasks.find(({ assigneeId }) => assigneeId === "vol")!;
		const brief = JSON.parse(own.brief);
		expect(brief).toMatchObject({ apartSd: 2.4, readAs: "5 to 7", otherReadAs: "1 to 3", other: "Invented Second" });
		expect(world.kinds.named("compare tests").instructions(brief).steps[1]).toContain(
			"1 mL of bleach made up with clean, unchlorinated water to 2 L",
		);
		wait(world, HOUR_MS);
		expect(await text(`${own.code} 2`, "+447700900002")).toMatchObject({ outcome: "accepted" });
		const other = tasks.find(({ assigneeId }) => assigneeId === "two")!;
		expect(await text(`${other.code} 2`, "+447700900003")).toMatchObject({ outcome: "accepted" });
		const result = (await world.messages()).filter(({ text: name }) => name === "compare.result.supervisor");
		expect(result.map(({ recipientId, fill }) => [recipientId, JSON.parse(fill).agree])).toEqual([["sup", "yes"]]);
		expect(await world.store.query("SELECT state FROM kit_comparison")).toEqual([{ state: "answered" }, { state: "answered" }]);
		expect(await world.store.query("SELECT count(*) AS n FROM strength_test")).toEqual([{ n: 4 }]);
		// Their side by side tests begin no comparison of their own.
		await world.sweep.openDue();
		expect(await open()).toEqual([]);
	});

	it("who read neighbouring colours, or days apart, or are one person, aren't asked", async () => {
		await test("vol", "3");
		await test("two", "2");
		await test("vol", "1");
		wait(world, 3 * DAY_MS);
		await test("two", "3");
		await world.sweep.openDue();
		expect(await open()).toEqual([]);
	});

	it("of whom one can't come are told to the supervisor, and that side isn't asked again", async () => {
		await test("vol", "3");
		await test("two", "1");
		await world.sweep.openDue();
		const [first] = await open();
		await text(`${first!.code} CANNOT`, first!.assigneeId === "vol" ? "+447700900002" : "+447700900003");
		expect((await world.messages()).map(({ text: name }) => name)).toContain("work.cannot.supervisor");
		await world.live(2);
		expect(await open()).toHaveLength(1);
	});
});
