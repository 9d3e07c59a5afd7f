import type { Importer } from "../../src/programme/import/importer.js";
import { newStore, onEachDatabase } from "../support/stores.js";
import { bytesOf, climateCells, FILES, fileOf, HEADERS, importerFor, problemsIn, programmeBefore } from "./files.js";

onEachDatabase("a file that can't be imported", (kind) => {
	let store: Awaited<ReturnType<typeof newStore>>;
	let importer: Importer;
	beforeAll(async () => {
		store = await newStore(kind);
		importer = importerFor(store);
		await programmeBefore(importer, "containers");
	});
	afterAll(() => store.remove());

	/** Imports what must be refused, and looks that the database holds what it held. */
	async function refusal(name: keyof typeof FILES, content: string | Uint8Array, options = {}): Promise<string[]> {
		const counts = () =>
			store.query(
				"SELECT (SELECT count(*) FROM area) AS a, (SELECT count(*) FROM person) AS p, (SELECT count(*) FROM household) AS h, (SELECT count(*) FROM container) AS c, (SELECT count(*) FROM batch) AS b, (SELECT count(*) FROM import_file) AS f",
			);
		const before = await counts();
		const report = await importer.importFile(name, bytesOf(content), options);
		expect(report).toMatchObject({ state: "refused", added: 0, changed: 0, unchanged: 0 });
		expect(await counts()).toEqual(before);
		return problemsIn(report);
	}

	const household = "H-9,LAKE-1,V1,5,well,clear,,";
	const batch = "B-9,,LAKE-1,V1,2025-06-01T07:30+06:00,20,5,9.5,meter,opaqueWhite,indoors,30,0.05";

	it("is empty, blank, or has a header alone", async () => {
		const empty = `line 1: the file is empty; its first line must name the columns: ${HEADERS.households.replaceAll(",", ", ")}`;
		expect(await refusal("households", "")).toEqual([empty]);
		expect(await refusal("households", "\r\n \n,,\n")).toEqual([empty]);
		expect(await refusal("households", "\uFEFF")).toEqual([empty]);
		expect(await refusal("households", `${HEADERS.households}\n\n`)).toEqual(["line 1: the file holds no row under its header"]);
	});

	it("lacks a column", async () => {
		expect(await refusal("containers", "code,household_code,volume_l,kind\nC-9,H-1,20,tap\n")).toEqual([
			"line 1, column last_cleaned_on: is missing from the header; its cells may be empty where that is allowed, but the column must be there",
		]);
	});

	it("has a column that nobody knows: the nearest one that is missing is suggested", async () => {
		const problems = await refusal("containers", "code,household_code,volume_ml,kind,last_cleaned_on\nC-9,H-1,20,tap,\n");
		expect(problems[0]).toBe(`line 1, column volume_ml: isn't a column of this kind of file; did you mean "volume_l"?`);
		const strange = await refusal("containers", `${HEADERS.containers},colour\nC-9,H-1,20,tap,,blue\n`);
		expect(strange).toEqual([
			"line 1, column colour: isn't a column of this kind of file; there are code, household_code, volume_l, kind, last_cleaned_on",
		]);
	});

	it("has a column twice, in whatever letters", async () => {
		expect(await refusal("containers", `${HEADERS.containers},Volume_L\nC-9,H-1,20,tap,,20\n`)).toEqual([
			"line 1, column volume_l: stands in the header twice; once is right",
		]);
	});

	it("holds bytes that aren't UTF-8: the line is named, in pieces of 1 byte and of 64 kB", async () => {
		const latin1 = Buffer.concat([
			Buffer.from(fileOf("households", household)),
			Buffer.from("H-10,LAKE-1,V1,5,r\xe9servoir,clear,,\n", "latin1"),
		]);
		const problem =
			'line 3: holds bytes that aren\'t UTF-8: save the file again as "CSV UTF-8", and look whether every letter is right';
		expect(await refusal("households", latin1)).toEqual([problem]);
		const pieces = await importer.importFile("households", bytesOf(latin1, 1));
		expect(problemsIn(pieces)).toEqual([problem]);
	});

	it("ends in the middle of a letter", async () => {
		const cut = Buffer.from(fileOf("households", household, "H-10,LAKE-1,V1,5,wellé")).subarray(0, -2);
		expect((await refusal("households", cut))[0]).toMatch(/^line 3: holds bytes that aren't UTF-8/);
	});

	it("holds half of a surrogate pair, written as three bytes (RFC 3629 section 3 forbids it)", async () => {
		const half = Buffer.concat([
			Buffer.from(`${HEADERS.households}\nH-9,LAKE-1,V1,5,we`),
			Buffer.from([0xed, 0xa0, 0x80]),
			Buffer.from("ll,clear,,\n"),
		]);
		expect((await refusal("households", half))[0]).toMatch(/^line 2: holds bytes that aren't UTF-8/);
	});

	it("is in UTF-16, with a byte-order mark of either order or without one", async () => {
		const advice = 'line 1: the file is in UTF-16: save it again as "CSV UTF-8"';
		const little = Buffer.from(`\uFEFF${FILES.households}`, "utf16le");
		expect(await refusal("households", little)).toEqual([advice]);
		expect(await refusal("households", Buffer.from(little).swap16())).toEqual([advice]);
		expect(await refusal("households", Buffer.from(FILES.households, "utf16le"))).toEqual([advice]);
	});

	it("has a quote that is never closed: the line and column where it opens are named", async () => {
		expect(
			await refusal(
				"households",
				fileOf("households", household, 'H-10,LAKE-1,V1,5,"well,clear,,', "H-11,LAKE-1,V1,5,well,clear,,"),
			),
		).toEqual(["line 3, column water_source: a quote that opens here is never closed"]);
	});

	it("has a quote in the middle of a cell, or text behind a closing one", async () => {
		expect(await refusal("households", fileOf("households", household, 'H-10,LAKE-1,V1,5,well "deep",clear,,'))).toEqual([
			"line 3, column water_source: a quote stands inside a cell: put the whole cell in quotes, and write the quote inside it twice",
		]);
		expect((await refusal("households", fileOf("households", 'H-10,LAKE-1,V1,5,"well" deep,clear,,')))[0]).toMatch(
			/^line 2, column water_source: a quote closes before the cell ends/,
		);
	});

	it("has rows with too few or too many cells", async () => {
		const advice = "a cell that holds the separator must stand in quotes";
		expect(
			await refusal(
				"households",
				fileOf("households", "H-9,LAKE-1,V1,5,well,clear,", "H-10,LAKE-1,V1,5,well, deep,clear,23.8,90.4"),
			),
		).toEqual([`line 2: has 7 cells, the header 8: ${advice}`, `line 3: has 9 cells, the header 8: ${advice}`]);
	});

	it("has one field of 10 MB, in quotes or bare, in a row or in the header", async () => {
		const long = "x".repeat(10 * 1024 * 1024);
		const message = "the row is longer than 16384 bytes: shorten this cell, or close the quote that opens in it";
		expect(await refusal("households", fileOf("households", household, `H-10,LAKE-1,V1,5,${long},clear,,`))).toEqual([
			`line 3, column water_source: ${message}`,
		]);
		expect(await refusal("households", fileOf("households", household, `H-10,LAKE-1,V1,5,"${long}",clear,,`))).toEqual([
			`line 3, column water_source: ${message}`,
		]);
		expect(await refusal("households", long)).toEqual([`line 1: ${message}`]);
	});

	it("counts lines right behind a quoted cell that holds line ends of either kind", async () => {
		const rows = ['H-9,LAKE-1,V1,5,"a\r\nb\nc",clear,,', "H-10,LAKE-1,V1,0,well,clear,,"];
		expect(await refusal("households", `${[HEADERS.households, ...rows].join("\r\n")}\r\n`)).toEqual([
			'line 2, column water_source, value "a\\u000d\\u000ab\\u000ac": must be one line of 1 to 100 characters',
			'line 5, column persons, value "0": must be a whole number, 1 to 500 (persons)',
		]);
	});

	it("holds a NUL or another control character: it is shown as a number, so that a log stays whole", async () => {
		expect(
			await refusal("households", fileOf("households", "H-9,LAKE-1,V1,5,we\0ll,clear,,", "H\u001b[2J,LAKE-1,V1,5,well,clear,,")),
		).toEqual([
			'line 2, column water_source, value "we\\u0000ll": must be one line of 1 to 100 characters',
			'line 3, column code, value "H\\u001b[2J": must be 1 to 40 letters, digits or . _ / -, beginning with a letter or digit',
		]);
	});

	it("holds the mark of a letter that was lost when the file was saved", async () => {
		expect(await refusal("households", fileOf("households", "H-9,LAKE-1,V1,5,r\uFFFDservoir,clear,,"))).toHaveLength(1);
	});

	it("has a code twice: both lines are named, and an accent written in two ways is one code", async () => {
		expect(await refusal("households", fileOf("households", household, "H-10,LAKE-1,V1,5,well,clear,,", household))).toEqual([
			'line 4, column code, value "H-9": stands on line 2 too; each code once is right',
		]);
		expect(
			await refusal("households", fileOf("households", "H\u00e9,LAKE-1,,5,well,clear,,", "He\u0301,LAKE-1,,5,well,clear,,")),
		).toHaveLength(1);
	});

	it("has a volume that is negative, nought, too large or no number", async () => {
		const rows = ["-5", "0", "1000.1", "Infinity", "1e3", "twenty", "0x10", ""].map((volume, i) => `C-${i},H-1,${volume},tap,`);
		const right = "must be more than 0 and at most 1000 (litres)";
		expect(await refusal("containers", fileOf("containers", ...rows))).toEqual([
			...["-5", "0", "1000.1", "Infinity", "1e3", "twenty", "0x10"].map(
				(v, i) => `line ${i + 2}, column volume_l, value "${v}": ${right}`,
			),
			`line 9, column volume_l: must not be empty: ${right}`,
		]);
	});

	it("names an area or person that isn't there: the nearest code is suggested, whatever its letters' case", async () => {
		const rows = ["H-9,LAKE-2,V1,5,well,clear,,", "H-10,lake,V1,5,well,clear,,", "H-11,LAKE-1,volunteer-77,5,well,clear,,"];
		expect(await refusal("households", fileOf("households", ...rows))).toEqual([
			'line 2, column area_code, value "LAKE-2": no area has this code; did you mean "LAKE-1"?',
			'line 3, column area_code, value "lake": no area has this code; did you mean "LAKE"?',
			'line 4, column volunteer_code, value "volunteer-77": no person has this code',
		]);
	});

	it("tells of a jar that will be made in the future, by the offset that is written or the area's own time", async () => {
		// Now is 18:00 in Dhaka.
		const at = (madeAt: string) => fileOf("batches", batch.replace("2025-06-01T07:30+06:00", madeAt));
		const future = (value: string) =>
			`line 2, column made_at, value "${value}": must not be in the future; it is 2025-06-15 18:00 there now`;
		expect(await refusal("batches", at("2025-06-15 18:01"))).toEqual([future("2025-06-15 18:01")]);
		expect(await refusal("batches", at("2025-06-15T12:00:00.001Z"))).toEqual([future("2025-06-15T12:00:00.001Z")]);
		expect(await refusal("batches", at("1999-12-31T23:59Z"))).toEqual([
			'line 2, column made_at, value "1999-12-31T23:59Z": must not be before the year 2000',
		]);
		expect((await refusal("batches", at("2025-02-29 08:00")))[0]).toContain('value "2025-02-29 08:00": must be a date and time');
	});

	it("tells of a container that will be cleaned tomorrow, by the household's own date", async () => {
		expect(await refusal("containers", fileOf("containers", "C-9,H-1,20,tap,2025-06-16"))).toEqual([
			'line 2, column last_cleaned_on, value "2025-06-16": must not be in the future; today is 2025-06-15 there',
		]);
		expect(await refusal("containers", fileOf("containers", "C-9,H-1,20,tap,15.06.2025"))).toEqual([
			'line 2, column last_cleaned_on, value "15.06.2025": must be a date as year-month-day, such as 2025-03-09',
		]);
	});

	it("gives a strength, a salt or a pH that no such jar has, and says what the pH's danger is", async () => {
		const rows = [batch.replace(",20,5,9.5,", ",20,50,6.4,"), batch.replace("B-9", "B-10").replace(",30,0.05", ",400,0.05")];
		expect(await refusal("batches", fileOf("batches", ...rows))).toEqual([
			'line 2, column strength_g_per_l, value "50": must be 0.5 to 15 (grams of available chlorine a litre; 0.5 % is 5)',
			'line 2, column ph, value "6.4": must be 7 to 13 (pH; a lower one gives off chlorine gas: read it again, never add acid)',
			'line 3, column salt_g_per_l, value "400": must be 0 to 350 (grams of salt a litre of brine)',
		]);
	});

	it("gives a pH without saying how it was measured, or the other way round", async () => {
		const rows = [batch.replace("meter", "not measured"), batch.replace("B-9", "B-10").replace("9.5,", ",")];
		expect(await refusal("batches", fileOf("batches", ...rows))).toEqual([
			'line 2, column ph_knowledge, value "not measured": must be "strip" or "meter" where a ph is given',
			'line 3, column ph_knowledge, value "meter": must be "not measured" where ph is empty',
		]);
	});

	it("puts areas into a circle, within the file or together with what is there already", async () => {
		const climate = climateCells("30", "22", "0.5");
		const area = (code: string, parent: string) => `${code},Invented,${parent},Asia/Dhaka,23,90,8,${climate}`;
		expect(await refusal("areas", fileOf("areas", area("X", "Z"), area("Y", "X"), area("Z", "Y"), area("W", "Z")))).toEqual([
			'line 2, column parent_code, value "Z": goes round in a circle, X > Z > Y > X: one of them must name another, or none',
		]);
		expect(await refusal("areas", fileOf("areas", area("LAKE", "LAKE-1")))).toEqual([
			'line 2, column parent_code, value "LAKE-1": goes round in a circle, LAKE > LAKE-1 > LAKE: one of them must name another, or none',
		]);
		expect(await refusal("areas", fileOf("areas", area("X", "X")))).toHaveLength(1);
		expect(await refusal("areas", fileOf("areas", area("X", "LAKE-3")))).toEqual([
			'line 2, column parent_code, value "LAKE-3": no area has this code, in this file or before; did you mean "LAKE-1"?',
		]);
	});

	it("names as supervisor a volunteer, in this file or before", async () => {
		const person = (code: string, supervisor: string) => `${code},volunteer,Invented,,en,LAKE,${supervisor},1-5,20:00,07:00,`;
		const right = 'is a person whose role is "volunteer"; it must be "supervisor" or "health office"';
		expect(await refusal("people", fileOf("people", person("V8", "V9"), person("V9", "V1"), person("V10", "S1")))).toEqual([
			`line 2, column supervisor_code, value "V9": ${right}`,
			`line 3, column supervisor_code, value "V1": ${right}`,
		]);
	});

	it("has climates that no place has, or in which nothing can be forecast", async () => {
		const area = (code: string, day: string, night: string) =>
			`${code},Invented,,Asia/Dhaka,23,90,8,${climateCells(day, night, "0.5")}`;
		const report = await importer.importFile(
			"areas",
			bytesOf(fileOf("areas", area("X", "20", "25"), area("Y", "45", "5"), area("Z", "46", "20"))),
		);
		expect(report).toMatchObject({ state: "refused", rows: 3 });
		expect(problemsIn(report)[0]).toBe(
			'line 2, column night_mean_c_01, value "25": must not be above day_mean_c_01, which is 20 (°C); are the two exchanged?',
		);
		expect(problemsIn(report)[12]).toBe(
			'line 3, column day_mean_c_01, value "45": is too far above the night: with the sun on it a jar would pass 60 °C, beyond which nothing is forecast',
		);
		expect(problemsIn(report)[24]).toBe('line 4, column day_mean_c_01, value "46": must be -20 to 45 (°C)');
	});

	it("names a time zone that isn't one: the nearest is suggested", async () => {
		const row = `X,Invented,,Asia/Daka,23,90,8,${climateCells("30", "22", "0.5")}`;
		expect(await refusal("areas", fileOf("areas", row))).toEqual([
			'line 2, column time_zone, value "Asia/Daka": must be a time zone by its IANA name, such as Asia/Dhaka; did you mean "Asia/Dhaka"?',
		]);
	});

	it("shows no name, and of a phone number its last three digits, even where one stands in the wrong column", async () => {
		const rows = [
			"V8,volunteer,Invented\u0007 Person,07700 900123,en,LAKE,S1,1-5,20:00,07:00,",
			"V9,volunteer,Invented,+44 7700 9001234567,+44 7700 900126,LAKE,S1,07700 900127,20:00,07:00,",
		];
		const problems = await refusal("people", fileOf("people", ...rows));
		expect(problems.map((problem) => problem.replace(/: must.*/, ""))).toEqual([
			"line 2, column name",
			'line 2, column phone, value "…123"',
			'line 3, column phone, value "…567"',
			'line 3, column language, value "…126"',
			'line 3, column working_days, value "…127"',
		]);
		expect(problems.join().replaceAll("such as +44 7700 900123", "")).not.toMatch(/Person|9001|7700 900126|7700 900127/);
	});

	it("has more problems than anybody reads: the first 100 are told, the rest is counted", async () => {
		const rows = Array.from({ length: 1234 }, (_, i) => `H-${i},LAKE-1,,0,well,clear,,`);
		const report = await importer.importFile("households", bytesOf(fileOf("households", ...rows)));
		expect(report).toMatchObject({ state: "refused", rows: 1234, more: 1134 });
		expect(report.problems).toHaveLength(100);
		expect(report.problems[99]).toMatchObject({ line: 101, column: "persons", value: "0" });
	});

	it("is longer than allowed, in bytes or in rows", async () => {
		const small = importerFor(store, { mostBytes: 100, mostRows: 2 });
		await expect(small.importFile("areas", bytesOf(FILES.areas))).rejects.toMatchObject({ code: "too-large", status: 413 });
		const report = await small.importFile("containers", bytesOf(`${HEADERS.containers}\na\nb\nc\nd\n`));
		expect(problemsIn(report).at(-1)).toBe("line 4: is row 3; a file may hold 2: split it into several, each with the header");
	});

	it("is of a kind that there isn't, or comes with a country that there isn't", async () => {
		await expect(importer.importFile("household", bytesOf(FILES.households))).rejects.toThrow(/did you mean "households"\?/);
		await expect(importer.importFile("people", bytesOf(FILES.people), { defaultCountry: "XX" })).rejects.toMatchObject({
			code: "invalid-input",
		});
	});
});
