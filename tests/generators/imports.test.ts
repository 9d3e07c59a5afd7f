import { Importer } from "../../src/programme/import/importer.js";
import { problemText } from "../../src/programme/import/report.js";
import { DAY_MS } from "../../src/time/clock.js";
import { onEachDatabase } from "../support/stores.js";
import { newWorld, settle, type World } from "../support/world.js";
import { aGenerator, dueOf, emptied } from "./given.js";

onEachDatabase("files of runs, batteries and reagents", (kind) => {
	let world: World;
	beforeAll(async () => {
		world = await newWorld(kind);
		await settle(world);
	});
	beforeEach(async () => {
		await emptied(world);
		await aGenerator(world);
	});
	afterAll(() => world.remove());

	async function* bytes(text: string) {
		yield Buffer.from(text);
	}
	const HEADERS = {
		runs: "code,generator_code,operator_code,started_at,ended_at,salt_g,water_l,power_source,battery_code,current_a,rest_voltage_v,gas_seen,batch_code",
		batteries: "code,area_code,generator_code,rated_ah,rated_hours,peukert_exponent,since",
		"kit-lots": "code,kit,lot,area_code,holder_code,received_on,expires_on,opened_on",
		generators:
			"code,name,area_code,rated_current_a,cells_in_series,current_efficiency,batch_volume_l,salt_g_per_l,in_service,operator_code,latitude_deg,longitude_deg",
	};
	const bring = (name: keyof typeof HEADERS, ...rows: string[]) =>
		world.the(Importer).importFile(name, bytes([HEADERS[name], ...rows, ""].join("\n")), { again: true });
	const problems = async (name: keyof typeof HEADERS, row: string) => (await bring(name, row)).problems.map(problemText);
	const RUN = "R1,G1,vol,2026-03-01 08:00,2026-03-01 09:15,150,5,mains,,8.4,,yes,";

	it("bring runs in the wall time of their generator, and what is due by them", async () => {
		expect(await bring("runs", RUN, "R2,G1,,2026-03-02T08:00+03:00,2026-03-02T09:00+03:00,150,5,solar panel,,,,,")).toMatchObject(
			{ state: "imported", added: 2 },
		);
		expect(
			await world.store.query("SELECT code, started_at_ms, current_a, operator_id FROM generator_run ORDER BY code"),
		).toEqual([
			{ code: "R1", startedAtMs: Date.UTC(2026, 2, 1, 5), currentA: 8.4, operatorId: "vol" },
			{ code: "R2", startedAtMs: Date.UTC(2026, 2, 2, 5), currentA: null, operatorId: null },
		]);
		// Not rinsed since the last of them.
		expect(await dueOf(world, "care for generator")).toEqual([{ subjectId: "gen", dueAtMs: Date.UTC(2026, 2, 2, 6) }]);
		expect(await bring("runs", RUN)).toMatchObject({ state: "imported", unchanged: 1 });
	});

	it.each([
		["ends before it starts", RUN.replace("09:15", "07:15"), /line 2.*ended_at.*at least a minute after the start/],
		["lies in the future", RUN.replaceAll("2026-03-01", "2026-04-01"), /line 2.*started_at.*must not be after now/],
		["has more water than the vessel holds", RUN.replace(",150,5,", ",150,9,"), /line 2.*water_l.*the vessel holds 5 L/],
		["has more salt than dissolves", RUN.replace(",150,5,", ",9000,5,"), /line 2.*salt_g.*more doesn't dissolve/],
		["is of no generator", RUN.replace("G1", "G9"), /line 2.*generator_code.*no generator has this code/],
		["was run by nobody", RUN.replace("vol", "who"), /line 2.*operator_code.*no person has this code/],
		["is on no battery", RUN.replace("mains,,", "battery,B9,"), /line 2.*battery_code.*no battery has this code/],
		["reads 21 V", RUN.replace("8.4,,", "8.4,21,"), /line 2.*rest_voltage_v.*must be 0 to 20/],
	])("are refused whole where a run %s, with line and column", async (_, row, problem) => {
		const told = await problems("runs", row);
		expect(told.join("\n")).toMatch(problem);
		expect(await world.store.query("SELECT id FROM generator_run")).toEqual([]);
	});

	it("are refused whole where two runs overlap, in the file or with what is on file", async () => {
		const overlapping = "R2,G1,,2026-03-01 09:00,2026-03-01 10:00,150,5,mains,,,,,";
		await expect(bring("runs", RUN, overlapping)).rejects.toMatchObject({ code: "conflict", problems: [{ at: "started_at" }] });
		expect(await world.store.query("SELECT id FROM generator_run")).toEqual([]);
		await bring("runs", RUN);
		await expect(bring("runs", overlapping)).rejects.toMatchObject({ code: "conflict" });
		expect(await world.store.query("SELECT code FROM generator_run")).toEqual([{ code: "R1" }]);
	});

	it("are refused whole for a current that the programme's rules don't allow", async () => {
		await expect(bring("runs", RUN.replace(",8.4,", ",30,"))).rejects.toMatchObject({
			code: "invalid-input",
			problems: [{ at: "current_a" }],
		});
		expect(await world.store.query("SELECT id FROM generator_run")).toEqual([]);
	});

	it("bring batteries and reagents, and what is due by them; wrong dates are refused", async () => {
		expect(await bring("batteries", "BAT-1,A1,G1,70,20,1.2,2026-03-01 08:00")).toMatchObject({ added: 1 });
		expect(await dueOf(world, "check battery")).toEqual([
			expect.objectContaining({ dueAtMs: Date.UTC(2026, 2, 1, 5) + 7 * DAY_MS }),
		]);
		expect(await problems("batteries", "BAT-2,A1,G1,70,20,1.2,2026-04-01 08:00")).toEqual([
			expect.stringMatching(/since.*must not be in the future/),
		]);
		expect(await bring("kit-lots", "KIT-1,drop count,L77,A1,vol,2026-01-10,2027-01-01,")).toMatchObject({ added: 1 });
		expect((await dueOf(world, "renew reagent"))[0]?.dueAtMs).toBe(Date.UTC(2026, 11, 17, 21));
		expect(await problems("kit-lots", "KIT-2,drop count,L77,A1,vol,2026-01-10,2027-01-01,2026-01-09")).toEqual([
			expect.stringMatching(/opened_on.*must not be before 2026-01-10/),
		]);
	});

	it("bring who runs a generator and where it stands; a file without these columns leaves them", async () => {
		expect(await bring("generators", "G1,Cell,A1,8.4,3,0.6,5,30,yes,vol,-1.51,37.02")).toMatchObject({ changed: 1 });
		const file =
			"code,name,area_code,rated_current_a,cells_in_series,current_efficiency,batch_volume_l,salt_g_per_l,in_service\nG1,Cell two,A1,8.4,3,0.6,5,30,yes\n";
		await world.the(Importer).importFile("generators", bytes(file));
		expect(await world.store.query("SELECT name, operator_id, latitude_deg, longitude_deg FROM generator")).toEqual([
			{ name: "Cell two", operatorId: "vol", latitudeDeg: -1.51, longitudeDeg: 37.02 },
		]);
	});
});
