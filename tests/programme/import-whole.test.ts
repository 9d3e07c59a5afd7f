import { createHash } from "node:crypto";
import { mkdtempSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { Sealer } from "../../src/ledger/sealer.js";
import { verifyLedger } from "../../src/ledger/verify.js";
import { reportText } from "../../src/programme/import/report.js";
import type { Store } from "../../src/store/store.js";
import { VirtualClock } from "../../src/time/clock.js";
import { newStore, onEachDatabase } from "../support/stores.js";
import { bytesOf, FILES, fileOf, importerFor, NOW_MS, problemsIn, programmeBefore } from "./files.js";

const kinds = Object.keys(FILES) as (keyof typeof FILES)[];

onEachDatabase("an import of files", (kind) => {
	let store: Awaited<ReturnType<typeof newStore>>;
	beforeEach(async () => {
		store = await newStore(kind);
	});
	afterEach(() => store.remove());

	async function entries() {
		const rows = await store.query<Record<"action" | "subjectKind" | "subjectId" | "areaId" | "detail", string>>(
			"SELECT at_ms, actor, action, subject_kind, subject_id, area_id, detail FROM ledger_entry ORDER BY id",
		);
		return rows.map((row) => ({ ...row, detail: JSON.parse(row["detail"] as string) as Record<string, unknown> }));
	}

	it("takes in a programme of 2 areas, 3 people, 2 households, 3 containers, 1 generator and 2 batches, with every value", async () => {
		const importer = importerFor(store);
		const reports = [];
		for (const name of kinds) reports.push(await importer.importFile(name, bytesOf(FILES[name])));
		expect(reports.map(({ kind: name, state, added }) => [name, state, added])).toEqual([
			["areas", "imported", 2],
			["people", "imported", 3],
			["households", "imported", 2],
			["containers", "imported", 3],
			["habits", "imported", 2],
			["generators", "imported", 1],
			["batches", "imported", 2],
		]);
		const [area] = await store.query("SELECT a.*, p.code AS parent FROM area a JOIN area p ON p.id = a.parent_id");
		expect(area).toMatchObject({ code: "LAKE-1", parent: "LAKE", timeZone: "Asia/Dhaka", latitudeDeg: 23.8, altitudeM: 8 });
		expect(JSON.parse(area!["climate"] as string)).toEqual(
			Array(12).fill({ dayMeanC: 31.5, nightMeanC: 24, cloudFraction: 0.4 }),
		);
		const [person] = await store.query("SELECT v.*, s.code AS supervisor FROM person v JOIN person s ON s.id = v.supervisor_id");
		expect(person).toMatchObject({
			code: "V1",
			supervisor: "S1",
			role: "volunteer",
			phoneE164: "+447700900123",
			language: "bn-BD",
			workingDays: "[1,2,3,4,7]",
			quietFrom: "20:00",
			quietUntil: "07:30",
			channels: '["sms","email"]',
			optedOutAtMs: null,
		});
		expect(Boolean(person!["active"])).toBe(true);
		expect(await store.query("SELECT name, phone_e164, channels FROM person WHERE code = 'H1'")).toEqual([
			{ name: "Office, Invented", phoneE164: null, channels: '["email"]' },
		]);
		expect(
			await store.query("SELECT code, persons, turbidity, latitude_deg, volunteer_id FROM household WHERE code = 'H-2'"),
		).toEqual([{ code: "H-2", persons: 3, turbidity: "very turbid", latitudeDeg: null, volunteerId: null }]);
		expect(await store.query("SELECT code, volume_l, last_cleaned_on FROM container ORDER BY code")).toEqual([
			{ code: "C-1", volumeL: 20, lastCleanedOn: "2025-06-01" },
			{ code: "C-2", volumeL: 12.5, lastCleanedOn: null },
			{ code: "C-3", volumeL: 20, lastCleanedOn: "2025-06-15" },
		]);
		const [generator] = await store.query("SELECT * FROM generator");
		expect(generator).toMatchObject({ ratedCurrentA: 6.5, cellsInSeries: 2, currentEfficiency: 0.65, saltGPerL: 30 });
		expect(Boolean(generator!["inService"])).toBe(true);
		// 07:30 in Dhaka is 01:30 UTC, with the offset written and without; instants computed independently (date -u +%s).
		expect(
			await store.query("SELECT code, made_at_ms, made_strength_g_per_l, ph, state, forecast FROM batch ORDER BY code"),
		).toEqual([
			{ code: "B-1", madeAtMs: 1_748_741_400_000, madeStrengthGPerL: 5, ph: 9.5, state: "in use", forecast: null },
			{ code: "B-2", madeAtMs: 1_749_519_000_000, madeStrengthGPerL: 4.5, ph: null, state: "in use", forecast: null },
		]);
	});

	it("changes nothing when the same files come again, and says so, whatever the size of their pieces", async () => {
		const importer = importerFor(store);
		await programmeBefore(importer, "end");
		const before = await everything(store);
		for (const name of kinds) {
			const report = await importer.importFile(name, bytesOf(FILES[name], 7));
			expect(report).toMatchObject({ state: "already imported", added: 0, changed: 0, problems: [] });
			expect(reportText(report)).toContain("has been imported already");
		}
		expect(await everything(store)).toEqual(before);
	});

	it("remembers a file by the SHA-256 of its bytes, once when two imports of it run at the same time", async () => {
		const importer = importerFor(store);
		const states = await Promise.all([1, 2, 3].map(() => importer.importFile("areas", bytesOf(FILES.areas))));
		expect(states.map(({ state }) => state).sort()).toEqual(["already imported", "already imported", "imported"]);
		const sha256 = createHash("sha256").update(FILES.areas).digest("hex");
		expect(await store.query("SELECT kind, sha256, rows, imported_at_ms FROM import_file")).toEqual([
			{ kind: "areas", sha256, rows: 2, importedAtMs: NOW_MS },
		]);
	});

	it("updates by code what a changed file changes, keeps ids, and removes nothing that the file leaves out", async () => {
		const importer = importerFor(store);
		await programmeBefore(importer, "containers");
		const [before] = await store.query("SELECT id FROM household WHERE code = 'H-1'");
		const changed = fileOf("households", "H-1,LAKE-1,V1,6,tube well,clear,23.81,90.41", "H-3,LAKE,,1,rain,clear,,");
		const report = await importer.importFile("households", bytesOf(changed));
		expect(report).toMatchObject({ state: "imported", rows: 2, added: 1, changed: 1, unchanged: 0 });
		expect(await store.query("SELECT id, code, persons FROM household WHERE code <> 'H-3' ORDER BY code")).toEqual([
			{ id: before!["id"], code: "H-1", persons: 6 },
			{ id: expect.any(String), code: "H-2", persons: 3 },
		]);
		const again = await importer.importFile("households", bytesOf(`${changed}\n`));
		expect(again).toMatchObject({ state: "imported", added: 0, changed: 0, unchanged: 2 });
	});

	it("puts an earlier file's values back only where it is asked to take the file in again", async () => {
		const importer = importerFor(store);
		await programmeBefore(importer, "containers");
		await importer.importFile("households", bytesOf(fileOf("households", "H-1,LAKE-1,V1,9,tube well,clear,23.81,90.41")));
		const persons = () => store.query("SELECT persons FROM household WHERE code = 'H-1'");
		expect(await importer.importFile("households", bytesOf(FILES.households))).toMatchObject({ state: "already imported" });
		expect(await persons()).toEqual([{ persons: 9 }]);
		const again = await importer.importFile("households", bytesOf(FILES.households), { again: true });
		expect(again).toMatchObject({ state: "imported", changed: 1, unchanged: 1 });
		expect(await persons()).toEqual([{ persons: 5 }]);
	});

	it("moves an area and a person to another parent, or to none, by a changed file", async () => {
		const importer = importerFor(store);
		await programmeBefore(importer, "households");
		const areas = FILES.areas.replace("Lake One,LAKE,", "Lake One,,");
		expect(await importer.importFile("areas", bytesOf(areas))).toMatchObject({ changed: 1, unchanged: 1 });
		expect(await store.query("SELECT code FROM area WHERE parent_id IS NOT NULL")).toEqual([]);
		const people = FILES.people.replace("LAKE-1,S1,", "LAKE-1,H1,");
		expect(await importer.importFile("people", bytesOf(people))).toMatchObject({ changed: 1, unchanged: 2 });
		expect(await store.query("SELECT s.code FROM person v JOIN person s ON s.id = v.supervisor_id")).toEqual([{ code: "H1" }]);
	});

	it("leaves a person inactive who was set so here, when a file tells of her again", async () => {
		const importer = importerFor(store);
		await programmeBefore(importer, "households");
		const inactive = kind === "sqlite" ? "0" : "false";
		await store.work.run((tx) => tx.affected(`UPDATE person SET active = ${inactive}, opted_out_at_ms = 5 WHERE code = 'V1'`));
		await importer.importFile("people", bytesOf(FILES.people.replace("7:30", "8:30")));
		const [person] = await store.query("SELECT active, opted_out_at_ms, quiet_until FROM person WHERE code = 'V1'");
		expect([Boolean(person!["active"]), person!["optedOutAtMs"], person!["quietUntil"]]).toEqual([false, 5, "08:30"]);
	});

	it("leaves the database as it was when only the last of 1,201 lines is wrong", async () => {
		const importer = importerFor(store);
		await programmeBefore(importer, "households");
		const before = await everything(store);
		const rows = Array.from({ length: 1200 }, (_, i) => `N-${i},LAKE-1,V1,4,well,clear,,`);
		const report = await importer.importFile(
			"households",
			bytesOf(fileOf("households", ...rows, "N-last,LAKE-1,V1,0,well,clear,,")),
		);
		expect(report).toMatchObject({ state: "refused", rows: 1201, added: 0 });
		expect(problemsIn(report)).toEqual(['line 1202, column persons, value "0": must be a whole number, 1 to 500 (persons)']);
		expect(await everything(store)).toEqual(before);
	});

	it("leaves the database as it was when what follows a batch fails, and takes the same file in once it doesn't", async () => {
		await programmeBefore(importerFor(store), "batches");
		const before = await everything(store);
		const failing = importerFor(store, {
			afterWriting: {
				batches: async () => {
					throw new Error("no forecast to be had");
				},
			},
		});
		await expect(failing.importFile("batches", bytesOf(FILES.batches))).rejects.toThrow("no forecast to be had");
		expect(await everything(store)).toEqual(before);
		expect(await importerFor(store).importFile("batches", bytesOf(FILES.batches))).toMatchObject({ state: "imported", added: 2 });
	});

	it("forgets the forecast of a jar whose facts change, so that none stands on what was wrong, and keeps a discarded jar's", async () => {
		const importer = importerFor(store);
		await programmeBefore(importer, "end");
		await store.work.run(async (tx) => {
			await tx.affected("UPDATE batch SET forecast = '{}'");
			await tx.affected("UPDATE batch SET state = 'discarded' WHERE code = 'B-2'");
		});
		const forecasts = () => store.query("SELECT code, state, forecast FROM batch ORDER BY code");
		await importer.importFile("batches", bytesOf(`${FILES.batches}\n`));
		const discarded = { code: "B-2", state: "discarded", forecast: "{}" };
		expect(await forecasts()).toEqual([{ code: "B-1", state: "in use", forecast: "{}" }, discarded]);
		const changed = FILES.batches.replace("20,5,9.5", "20,4,9.5").replace("10,4.5,", "10,4,");
		expect(await importer.importFile("batches", bytesOf(changed))).toMatchObject({ changed: 2 });
		expect(await forecasts()).toEqual([{ code: "B-1", state: "in use", forecast: null }, discarded]);
	});

	it("hands the ids of added and changed batches, and no others, to what follows, in the same unit of work", async () => {
		await programmeBefore(importerFor(store), "batches");
		const handed: string[][] = [];
		const importer = importerFor(store, {
			afterWriting: {
				batches: async (tx, ids) => {
					const rows = await tx.query("SELECT id, code FROM batch");
					handed.push(ids.map((id) => rows.find((row) => row["id"] === id)!["code"] as string));
				},
			},
		});
		await importer.importFile("batches", bytesOf(FILES.batches));
		await importer.importFile("batches", bytesOf(FILES.batches.replace("2025-06-10 07:30,10", "2025-06-10 07:30,8")));
		expect(handed).toEqual([["B-1", "B-2"], ["B-2"]]);
	});

	it("tells the ledger of an import: who, what file, how many rows and which were new; and nothing of a file that changes nothing", async () => {
		const importer = importerFor(store);
		await importer.importFile("areas", bytesOf(FILES.areas), { actor: "person-7" });
		await importer.importFile("areas", bytesOf(FILES.areas), { actor: "person-7" });
		await importer.importFile("areas", bytesOf("code\n"), { actor: "person-7" });
		const [file] = await store.query("SELECT id, sha256 FROM import_file");
		const of = { atMs: NOW_MS, actor: "person-7", subjectKind: "import", subjectId: file!["id"] };
		expect(await entries()).toEqual([
			{ ...of, action: "added by import", areaId: null, detail: { kind: "areas", codes: ["LAKE", "LAKE-1"] } },
			{
				...{ ...of, action: "imported", areaId: null },
				detail: { kind: "areas", sha256: file!["sha256"], rows: 2, added: 2, changed: 0, unchanged: 0 },
			},
		]);
	});

	it("keeps what each changed record said before and says after, and of a name, a number or an address only that it changed", async () => {
		const importer = importerFor(store);
		await programmeBefore(importer, "end");
		const before = (await entries()).length;
		const people = FILES.people.replace("Invented Volunteer", "Imagined Volunteer").replace("900123", "900999");
		await importer.importFile("people", bytesOf(people.replace("LAKE-1,S1,7-4,20:00", "LAKE-1,H1,1-3,20:00")));
		await importer.importFile("households", bytesOf(FILES.households.replace("V1,5,tube well", ",6,tube well")));
		await importer.importFile("containers", bytesOf(FILES.containers.replace("H-1,20,", "H-1,15,")));
		await importer.importFile("habits", bytesOf(FILES.habits.replace("H-1,2,2.5", "H-1,3,2.5")));
		await importer.importFile("generators", bytesOf(FILES.generators.replace("30,yes", "30,no")));
		await importer.importFile("areas", bytesOf(FILES.areas.replace("Lake One,LAKE,", "Lake One,,")));
		const ids = Object.fromEntries(
			await Promise.all(
				["area", "person", "household", "container", "generator"].map(async (table) => [
					table,
					Object.fromEntries((await store.query(`SELECT code, id FROM ${table}`)).map(({ code, id }) => [code, id])),
				]),
			),
		) as Record<string, Record<string, string>>;
		const told = (await entries()).slice(before).filter(({ action }) => action === "changed by import");
		expect(told.map(({ subjectKind, subjectId, areaId, detail }) => [subjectKind, subjectId, areaId, detail])).toEqual(
			[
				[
					...["person", "V1", 2, ["name", "phone_e164", "working_days", "supervisor_code"]],
					{ working_days: [1, 2, 3, 4, 7], supervisor_code: "S1" },
					{ working_days: [1, 2, 3], supervisor_code: "H1" },
				],
				[
					"household",
					"H-1",
					2,
					["volunteer_id", "persons"],
					{ volunteer_id: ids["person"]!["V1"], persons: 5 },
					{ volunteer_id: null, persons: 6 },
				],
				["container", "C-1", 2, ["volume_l"], { volume_l: 20 }, { volume_l: 15 }],
				[
					"household",
					"H-1",
					2,
					["drinking_l_per_person_day"],
					{ drinking_l_per_person_day: 2 },
					{ drinking_l_per_person_day: 3 },
				],
				["generator", "G1", 2, ["in_service"], { in_service: true }, { in_service: false }],
				["area", "LAKE-1", 2, ["parent_code"], { parent_code: "LAKE" }, { parent_code: null }],
			].map(([subject, code, line, fields, was, is]) => [
				subject,
				ids[subject as string]![code as string],
				ids["area"]!["LAKE-1"],
				{ importId: expect.any(String), line, fields, before: was, after: is },
			]),
		);
		const kept = JSON.stringify(await store.query("SELECT * FROM ledger_entry"));
		for (const personal of ["Imagined", "Invented Vol", "7700900"]) expect(kept).not.toContain(personal);
	});

	it("puts as many changes into the ledger as rows changed, over several pages, and what was sealed of them holds", async () => {
		const importer = importerFor(store);
		await programmeBefore(importer, "households");
		const rows = (persons: number) => Array.from({ length: 1200 }, (_, i) => `N-${i},LAKE-1,,${persons + (i % 3)},well,clear,,`);
		await importer.importFile("households", bytesOf(fileOf("households", ...rows(1))));
		const changed = fileOf("households", ...rows(1).slice(0, 400), ...rows(4).slice(400), "N-new,LAKE-1,,2,well,clear,,");
		expect(await importer.importFile("households", bytesOf(changed))).toMatchObject({ added: 1, changed: 800, unchanged: 400 });
		const byAction = "SELECT action, count(*) AS n FROM ledger_entry WHERE at_ms = $1 GROUP BY action ORDER BY action";
		expect(await store.query(byAction, [NOW_MS])).toEqual([
			{ action: "added by import", n: 6 },
			{ action: "changed by import", n: 800 },
			{ action: "imported", n: 4 },
		]);
		const listed = (await entries()).flatMap(({ action, detail }) =>
			action === "added by import" && detail["kind"] === "households" ? (detail["codes"] as string[]) : [],
		);
		expect(new Set(listed).size).toBe(1201);
		await new Sealer(store, new VirtualClock(NOW_MS)).seal();
		expect(await verifyLedger(store)).toMatchObject({ entries: 810, findings: [] });
	});

	it("lets two files that tell of the same 2,000 households in opposite orders both in at once, one wholly after the other", async () => {
		const importer = importerFor(store);
		await programmeBefore(importer, "households");
		const rows = (persons: number) => Array.from({ length: 2000 }, (_, i) => `N-${i},LAKE-1,,${persons},well,clear,,`);
		const files = [fileOf("households", ...rows(1)), fileOf("households", ...rows(2).reverse())];
		const reports = await Promise.all(files.map((file) => importer.importFile("households", bytesOf(file))));
		expect(reports.map(({ state, added, changed }) => [state, added, changed]).sort()).toEqual([
			["imported", 0, 2000],
			["imported", 2000, 0],
		]);
		expect(await store.query("SELECT count(*) AS n, count(DISTINCT persons) AS told FROM household")).toEqual([
			{ n: 2000, told: 1 },
		]);
	});

	it("reads a file by its path, and refuses a path where there is none", async () => {
		const folder = mkdtempSync(join(tmpdir(), "jarwatch-test-"));
		try {
			writeFileSync(join(folder, "areas.csv"), FILES.areas);
			const importer = importerFor(store);
			expect(await importer.importFile("areas", join(folder, "areas.csv"))).toMatchObject({ state: "imported", added: 2 });
			await expect(importer.importFile("areas", join(folder, "absent.csv"))).rejects.toMatchObject({ code: "invalid-input" });
			await expect(importer.importFile("areas", folder)).rejects.toMatchObject({ code: "invalid-input" });
		} finally {
			rmSync(folder, { recursive: true });
		}
	});

	it("leaves no copy of a file behind, whether it is imported, refused or breaks off", async () => {
		const folder = mkdtempSync(join(tmpdir(), "jarwatch-test-"));
		try {
			const importer = importerFor(store, { spoolFolder: folder });
			let whileReading: string[] = [];
			const watched = (async function* () {
				yield* bytesOf(FILES.areas);
				whileReading = readdirSync(folder);
			})();
			await importer.importFile("areas", watched);
			expect(whileReading).toEqual([expect.stringMatching(/^jarwatch-import-/)]);
			await importer.importFile("areas", bytesOf("wrong\n"));
			const broken = (async function* () {
				yield Buffer.from("code,");
				throw new Error("the line was cut");
			})();
			await expect(importer.importFile("areas", broken)).rejects.toThrow("the line was cut");
			expect(readdirSync(folder)).toEqual([]);
		} finally {
			rmSync(folder, { recursive: true });
		}
	});
});

/** Every row of every table that an import may touch. */
async function everything(store: Store): Promise<unknown> {
	const tables = ["area", "person", "household", "container", "generator", "batch", "import_file", "ledger_entry"];
	return Promise.all(tables.map((table) => store.query(`SELECT * FROM ${table} ORDER BY id`)));
}
