import { DAY_MS } from "../../src/time/clock.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch } from "../support/world.js";
import { type Served, served } from "./served.js";

onEachDatabase("a volunteer's stock is reckoned anew", (kind) => {
	let api: Served;
	beforeAll(async () => {
		api = await served(kind);
		const csv = { "content-type": "text/csv; charset=utf-8" };
		const people = [
			"code,role,name,phone,language,area_code,supervisor_code,working_days,quiet_from,quiet_until,channels",
			"v2,volunteer,Invented 2,+447700900102,en,A1,sup,1 2 3 4 5 6 7,20:00,06:00,",
		];
		await api.ask("POST", "/imports/people", { raw: people.join("\n"), headers: csv });
		const households = [
			"code,area_code,volunteer_code,persons,water_source,turbidity,latitude_deg,longitude_deg",
			"H1,A1,vol,5,well,clear,,",
			"H2,A1,v2,5,well,clear,,",
		];
		await api.ask("POST", "/imports/households", { raw: households.join("\n"), headers: csv });
		await aBatch(api.world, "B1");
		await aBatch(api.world, "B2", { keeperCode: "v2" });
	});
	afterAll(() => api.close());
	beforeEach(async () => {
		await api.world.sweep.openDue();
		expect(await marked()).toEqual([]);
	});

	/** Codes of those whose stock the next sweep looks at. */
	const marked = async () =>
		(
			await api.world.store.query<{ code: string }>(
				"SELECT p.code FROM due d JOIN person p ON p.id = d.subject_id WHERE d.kind = 'collect bleach' AND d.due_at_ms <= $1 ORDER BY p.code",
				[api.world.clock.nowMs()],
			)
		).map(({ code }) => code);

	it("when a household of hers uses more water than it was thought to", async () => {
		expect((await api.ask("PUT", "/households/H1/habits", { body: { drinkingLPerPersonDay: 6 } })).status).toBeLessThan(300);
		expect(await marked()).toEqual(["vol"]);
	});

	it("when habits come in by a file", async () => {
		const raw =
			"household_code,drinking_l_per_person_day,food_l_per_person_day,hygiene_l_per_person_day,refill_every_hours,season_from_month,season_until_month,season_source,season_turbidity\nH2,5,,,,,,,\n";
		const { status } = await api.ask("POST", "/imports/habits", { raw, headers: { "content-type": "text/csv; charset=utf-8" } });
		expect(status).toBe(200);
		expect(await marked()).toEqual(["v2"]);
	});

	it("when a household goes from her to another, whose stock is reckoned anew too", async () => {
		const { headers } = await api.ask("GET", "/households/H1/assignment");
		const moved = await api.ask("PUT", "/households/H1/assignment", {
			body: { volunteerCode: "v2" },
			headers: { "if-match": String(headers["etag"]) },
		});
		expect(moved.status).toBeLessThan(300);
		expect(await marked()).toEqual(["v2", "vol"]);
	});

	it("when the programme doses otherwise, and not when it changes what has nothing to do with it", async () => {
		const { body, headers } = await api.ask("GET", "/programme");
		const put = (rules: object, etag: unknown) =>
			api.ask("PUT", "/programme", { body: { name: body.name, rules }, headers: { "if-match": String(etag) } });
		api.world.clock.advance(DAY_MS / 24);
		const first = await put({ ...body.rules, askAgainDays: 2 }, headers["etag"]);
		expect(first.status).toBe(200);
		expect(await marked()).toEqual([]);
		const second = await put({ ...body.rules, doseMgPerL: { clear: 2.5, cloudy: 5 } }, first.headers["etag"]);
		expect(second.status).toBe(200);
		// Two changes in one millisecond have two versions, the later one of the next.
		api.world.clock.advance(10);
		expect(await marked()).toEqual(["v2", "vol"]);
	});
});
