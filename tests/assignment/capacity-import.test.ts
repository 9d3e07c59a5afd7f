import { capacitiesFromList } from "../../src/assignment/capacity-import.js";
import type { Importer } from "../../src/programme/import/importer.js";
import { VirtualClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { SeededRandomness } from "../../src/time/randomness.js";
import { bytesOf, fileOf, importerFor, NOW_MS, problemsIn, programmeBefore } from "../programme/files.js";
import { newStore, onEachDatabase } from "../support/stores.js";

onEachDatabase("a file of what volunteers can take on", (kind) => {
	let store: Awaited<ReturnType<typeof newStore>>;
	let importer: Importer;
	beforeAll(async () => {
		store = await newStore(kind);
		const ids = new Ids(new VirtualClock(NOW_MS), new SeededRandomness(77));
		importer = importerFor(store, { writing: { capacities: capacitiesFromList(ids) } });
		await programmeBefore(importer, "households");
	});
	afterAll(() => store.remove());
	const take = (content: string) => importer.importFile("capacities", bytesOf(content));
	const kept = () =>
		store.query(
			`SELECT p.code, c.latitude_deg, c.longitude_deg, c.most_households, c.most_litres_per_day, c.most_hours_per_week, c.works_from, c.works_until
			 FROM volunteer_capacity c JOIN person p ON p.id = c.person_id ORDER BY p.code`,
		);
	const entries = async () =>
		(await store.query<{ detail: string }>("SELECT detail FROM ledger_entry WHERE action = 'capacity changed' ORDER BY id")).map(
			({ detail }) => JSON.parse(detail) as Record<string, unknown>,
		);

	it("is taken with every value, told in the ledger but for her place, and changes nothing where it says the same again", async () => {
		expect(await take(fileOf("capacities", "V1,23.801,90.402,12,180.5,20,8:00,13:30"))).toMatchObject({
			state: "imported",
			added: 1,
			changed: 0,
		});
		const whole = {
			...{ code: "V1", latitudeDeg: 23.801, longitudeDeg: 90.402, mostHouseholds: 12 },
			...{ mostLitresPerDay: 180.5, mostHoursPerWeek: 20, worksFrom: "08:00", worksUntil: "13:30" },
		};
		expect(await kept()).toEqual([whole]);
		expect(await entries()).toEqual([
			{ mostHouseholds: 12, mostLitresPerDay: 180.5, mostHoursPerWeek: 20, worksFrom: "08:00", worksUntil: "13:30" },
		]);
		expect(await take(fileOf("capacities", "V1,23.801,90.402,12,180.5,20,08:00,13:30"))).toMatchObject({
			...{ state: "imported", added: 0, changed: 0, unchanged: 1 },
		});
		expect(await entries()).toHaveLength(1);
	});

	it("leaves what it has no column for as it is, and takes an empty cell for nothing said", async () => {
		expect(await take("code,most_households,most_hours_per_week\nV1,9,\n")).toMatchObject({ state: "imported", changed: 1 });
		expect((await kept())[0]).toMatchObject({
			...{ mostHouseholds: 9, mostHoursPerWeek: null, mostLitresPerDay: 180.5, latitudeDeg: 23.801, worksFrom: "08:00" },
		});
	});

	it.each([
		[
			"a supervisor",
			fileOf("capacities", "S1,,,3,,,,"),
			'line 2, column code, value "S1": no volunteer has this code; did you mean "V1"?',
		],
		[
			"one coordinate",
			fileOf("capacities", "V1,23.8,,,,,,"),
			"line 2, column longitude_deg: must not be empty where the other coordinate is given; both or neither",
		],
		[
			"a day that ends before it begins",
			fileOf("capacities", "V1,,,,,,13:00,08:00"),
			'line 2, column works_until, value "08:00": must be later than works_from, which is 13:00',
		],
		[
			"200 h a week",
			fileOf("capacities", "V1,,,,,200,,"),
			'line 2, column most_hours_per_week, value "200": must be 0 to 168 (hours a week)',
		],
		[
			"half a household",
			fileOf("capacities", "V1,,,2.5,,,,"),
			'line 2, column most_households, value "2.5": must be a whole number, 0 to 10000 (households)',
		],
		[
			"a column for one half of a pair",
			"code,works_from\nV1,08:00\n",
			'line 2, column works_from, value "08:00": must stand in the file together with the column works_until',
		],
	])("with %s is refused by line and column, and nothing is changed", async (_, file, problem) => {
		const before = await kept();
		const report = await take(file);
		expect([report.state, problemsIn(report)]).toEqual(["refused", [problem]]);
		expect(await kept()).toEqual(before);
	});
});
