import { reachablePeople } from "../../src/duties/reachable.js";
import { holidaysOf } from "../../src/programme/holidays.js";
import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import { type Served, served } from "../api/served.js";
import { anArea, aPerson } from "../support/builders.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, START_MS } from "../support/world.js";
import { bytesOf, importerFor, problemsIn } from "./files.js";

onEachDatabase("public holidays", (kind) => {
	let api: Served;
	beforeAll(async () => {
		api = await served(kind);
		await anArea(api.world.store, { id: "below", parentId: "area" });
		await aPerson(api.world.store, { id: "far", areaId: "below" });
	});
	afterAll(() => api.close());

	it("are set as a whole for an area, and hold in the areas below it", async () => {
		const holidays = [
			{ onDate: "2026-12-12", name: "Invented feast" },
			{ onDate: "2026-06-01", name: "Another one" },
		];
		const { status, body } = await api.ask("PUT", "/areas/A1/holidays", { body: { holidays } });
		expect([status, body]).toEqual([200, { areaCode: "A1", holidays: holidays.toReversed() }]);
		const found = await holidaysOf(api.world.store, ["below", "area"]);
		expect([...found].map(([area, dates]) => [area, [...dates].sort()]).sort()).toEqual([
			["area", ["2026-06-01", "2026-12-12"]],
			["below", ["2026-06-01", "2026-12-12"]],
		]);
		expect((await reachablePeople(api.world.store, ["far"])).get("far")?.holidays).toHaveLength(2);
		expect((await api.ask("PUT", "/areas/A1/holidays", { body: { holidays: [] } })).body.holidays).toEqual([]);
		expect(await holidaysOf(api.world.store, ["below"])).toEqual(new Map());
	});

	it.each([
		["a day that there isn't", [{ onDate: "2026-02-30", name: "x" }], "/holidays/0/onDate"],
		[
			"a day twice",
			[
				{ onDate: "2026-06-01", name: "x" },
				{ onDate: "2026-06-01", name: "y" },
			],
			"/holidays/1/onDate",
		],
	])("are refused with %s, and nothing is changed", async (_, holidays, at) => {
		const { status, body } = await api.ask("PUT", "/areas/A1/holidays", { body: { holidays } });
		expect([status, body.errors[0].pointer]).toEqual([422, at]);
		expect((await api.ask("GET", "/areas/A1/holidays")).body.holidays).toEqual([]);
	});

	it("come in as a file, and a day that isn't one is told with its line", async () => {
		const importer = importerFor(api.world.store);
		const header = "code,area_code,on_date,name";
		const refused = await importer.importFile("holidays", bytesOf(`${header}\nH1,A1,2026-13-01,Invented`));
		expect(problemsIn(refused)).toEqual([expect.stringMatching(/line 2.*on_date.*2026-13-01.*year-month-day/)]);
		await importer.importFile("holidays", bytesOf(`${header}\nH1,A1,2026-03-04,Invented feast`));
		expect((await api.ask("GET", "/areas/A1/holidays")).body.holidays).toEqual([
			{ onDate: "2026-03-04", name: "Invented feast" },
		]);
	});

	it("keep messages about work for the next working morning, even if they are declared only after the message was held", async () => {
		const { world } = api;
		await aBatch(world);
		await world.store.work.run((tx) => tx.query("UPDATE due SET due_at_ms = $1", [START_MS + DAY_MS]));
		// Wednesday, 4 March, is a holiday: due then at 08:00, told on Thursday at 06:00, 03:00 UTC.
		world.clock.moveTo(START_MS + DAY_MS);
		await world.sweep.openDue();
		expect(await world.messages()).toMatchObject([{ state: "held", heldUntilMs: START_MS + 2 * DAY_MS - 2 * HOUR_MS }]);
		await api.ask("PUT", "/areas/A1/holidays", { body: { holidays: [{ onDate: "2026-03-05", name: "Declared late" }] } });
		world.clock.moveTo(START_MS + 2 * DAY_MS);
		await world.sweep.openDue();
		expect(await world.messages()).toMatchObject([
			{ state: "held", heldUntilMs: START_MS + 3 * DAY_MS - 2 * HOUR_MS, heldBecause: null },
		]);
		world.clock.moveTo(START_MS + 3 * DAY_MS);
		await world.sweep.openDue();
		expect(await world.messages()).toMatchObject([{ state: "waiting" }]);
	});
});
