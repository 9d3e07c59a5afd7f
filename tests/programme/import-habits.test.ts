import type { Importer } from "../../src/programme/import/importer.js";
import { newStore, onEachDatabase } from "../support/stores.js";
import { bytesOf, FILES, fileOf, HEADERS, importerFor, problemsIn, programmeBefore } from "./files.js";

onEachDatabase("a file of households' habits", (kind) => {
	let store: Awaited<ReturnType<typeof newStore>>;
	let importer: Importer;
	beforeAll(async () => {
		store = await newStore(kind);
		importer = importerFor(store);
		await programmeBefore(importer, "habits");
	});
	afterAll(() => store.remove());
	const take = (content: string, name: keyof typeof HEADERS = "habits") => importer.importFile(name, bytesOf(content));
	const kept = () =>
		store.query("SELECT h.code, w.* FROM household_water w JOIN household h ON h.id = w.household_id ORDER BY h.code");

	it("is taken by the household's code, once; a changed cell changes that row alone", async () => {
		expect(await take(FILES.habits)).toMatchObject({ state: "imported", added: 2, changed: 0 });
		expect(await kept()).toMatchObject([
			{
				code: "H-1",
				drinkingLPerPersonDay: 2,
				foodLPerPersonDay: 2.5,
				hygieneLPerPersonDay: null,
				refillEveryHours: 24,
				seasonFromMonth: 6,
				seasonTurbidity: "cloudy",
			},
			{ code: "H-2", drinkingLPerPersonDay: null, refillEveryHours: 12, seasonTurbidity: null },
		]);
		expect(await take(FILES.habits)).toMatchObject({ state: "already imported" });
		const again = fileOf("habits", "H-1,3,2.5,,24,6,9,pond,cloudy", "H-2,,,,12,,,,");
		expect(await take(again)).toMatchObject({ state: "imported", added: 0, changed: 1, unchanged: 1 });
		expect((await kept())[0]).toMatchObject({ drinkingLPerPersonDay: 3 });
	});

	it.each([
		[
			"a household that there isn't",
			"H-9,2,2,,24,,,,",
			'line 2, column household_code, value "H-9": no household has this code; did you mean "H-1"?',
		],
		[
			"a household twice",
			"H-1,2,2,,24,,,,\nH-1,2,2,,24,,,,",
			'line 3, column household_code, value "H-1": stands on line 2 too; each code once is right',
		],
		[
			"21 L to drink",
			"H-1,21,2,,24,,,,",
			'line 2, column drinking_l_per_person_day, value "21": must be 0 to 20 (litres a person and day)',
		],
		[
			"a refill every 0 h",
			"H-1,2,2,,0,,,,",
			'line 2, column refill_every_hours, value "0": must be more than 0 and at most 168 (hours from one filling to the next)',
		],
		[
			"month 13",
			"H-1,2,2,,24,13,2,,clear",
			'line 2, column season_from_month, value "13": must be a whole number, 1 to 12 (month of the year)',
		],
		[
			"a season without its turbidity",
			"H-1,2,2,,24,11,2,,",
			"line 2, column season_turbidity: must not be empty where another of the season's cells is given: first and last month, and turbidity",
		],
	])("with %s is refused by line and column, and nothing is changed", async (_, rows, problem) => {
		const before = await kept();
		const report = await take(`${HEADERS.habits}\n${rows}\n`);
		expect(report.state).toBe("refused");
		expect(problemsIn(report)).toEqual([problem]);
		expect(await kept()).toEqual(before);
	});

	// A week of 20 L a day for each of five persons: 700 L (MSF's usual figures).
	it("comes after containers, of which one that is larger than its household of five could have is refused by line and column", async () => {
		const before = await store.query("SELECT count(*) AS n FROM container");
		const report = await take(fileOf("containers", "C-7,H-1,700,tap,", "C-8,H-1,701,tap,"), "containers");
		expect(problemsIn(report)).toEqual([
			'line 3, column volume_l, value "701": must be at most 700 (litres) in a household of 5; is it in millilitres, or another household\'s?',
		]);
		expect(await store.query("SELECT count(*) AS n FROM container")).toEqual(before);
	});
});
