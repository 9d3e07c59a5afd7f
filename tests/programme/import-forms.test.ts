import { newStore, onEachDatabase } from "../support/stores.js";
import { bytesOf, FILES, fileOf, HEADERS, importerFor, problemsIn, programmeBefore } from "./files.js";

onEachDatabase("the forms in which spreadsheets write a file", (kind) => {
	const containers = ["C-8,H-1,12.5,tap,2025-06-01", 'C-9,H-2,20,"bucket with cover",'];
	const plain = fileOf("containers", ...containers);
	const expected = [
		{ code: "C-8", volumeL: 12.5, kind: "tap", lastCleanedOn: "2025-06-01" },
		{ code: "C-9", volumeL: 20, kind: "bucket with cover", lastCleanedOn: null },
	];
	const semicolons = plain.replaceAll(",", ";");
	const forms: Record<string, string | Uint8Array> = {
		"with commas and line feeds (RFC 4180 but for its line ends)": plain,
		"with a byte-order mark": `\uFEFF${plain}`,
		"with CR LF at the end of lines, as RFC 4180 asks": plain.replaceAll("\n", "\r\n"),
		"with CR alone": plain.replaceAll("\n", "\r"),
		"with line ends of two kinds in one file": plain.replace("\n", "\r\n"),
		"without a line end at the end": plain.trimEnd(),
		"with semicolons and decimal points": semicolons,
		"with semicolons and decimal commas": semicolons.replace("12.5", "12,5"),
		"with tabs": plain.replaceAll(",", "\t"),
		"with tabs, a byte-order mark and CR LF": `\uFEFF${plain.replaceAll(",", "\t").replaceAll("\n", "\r\n")}`,
		"with every cell in quotes": plain.replaceAll('"', "").replace(/[^,\n]+/g, '"$&"'),
		"with blank lines and rows of separators alone": plain.replaceAll("\n", "\n\n,,,,\n"),
		"with empty cells beyond the last column": plain.replaceAll("\n", ",,\n"),
		"with spaces around cells and capitals in the header": plain
			.replaceAll(",", " , ")
			.replaceAll('"', "")
			.replace(/^.*/, (header) => header.toUpperCase()),
		"with the columns in another order":
			"kind,code,last_cleaned_on,household_code,volume_l\ntap,C-8,2025-06-01,H-1,12.5\nbucket with cover,C-9,,H-2,20\n",
	};

	it.each(Object.keys(forms))("is taken in %s, in pieces of 1, 5 and 65,536 bytes", async (form) => {
		const store = await newStore(kind);
		try {
			const importer = importerFor(store);
			await programmeBefore(importer, "containers");
			for (const chunkBytes of [1, 5, 65_536]) {
				const report = await importer.importFile("containers", bytesOf(forms[form]!, chunkBytes), { again: true });
				expect(problemsIn(report)).toEqual([]);
				expect(report).toMatchObject({ state: "imported", rows: 2 });
			}
			expect(await store.query("SELECT code, volume_l, kind, last_cleaned_on FROM container ORDER BY code")).toEqual(expected);
		} finally {
			await store.remove();
		}
	});

	it("refuse a decimal comma where commas separate, and both marks in one file, because 1.500 L may mean two things", async () => {
		const store = await newStore(kind);
		try {
			const importer = importerFor(store);
			await programmeBefore(importer, "containers");
			const comma = await importer.importFile("containers", bytesOf(fileOf("containers", 'C-8,H-1,"12,5",tap,')));
			expect(problemsIn(comma)).toEqual([
				'line 2, column volume_l, value "12,5": must be more than 0 and at most 1000 (litres); a decimal comma is read only where semicolons separate the columns',
			]);
			const rows = ["C-8;H-1;12,5;tap;", "C-9;H-1;1.500;tap;"];
			const both = await importer.importFile(
				"containers",
				bytesOf([HEADERS.containers.replaceAll(",", ";"), ...rows].join("\n")),
			);
			expect(problemsIn(both)).toEqual([
				'line 3, column volume_l, value "1.500": must be more than 0 and at most 1000 (litres); further up this file writes decimals with ",", and one file can\'t use both marks',
			]);
		} finally {
			await store.remove();
		}
	});

	it("read national phone numbers where a default country is given", async () => {
		const store = await newStore(kind);
		try {
			const importer = importerFor(store);
			await programmeBefore(importer, "people");
			const people = FILES.people.replace("+44 7700 900123", "07700 900123");
			expect(await importer.importFile("people", bytesOf(people))).toMatchObject({ state: "refused" });
			expect(await importer.importFile("people", bytesOf(people), { defaultCountry: "GB" })).toMatchObject({ added: 3 });
			const phones = await store.query("SELECT phone_e164 FROM person WHERE phone_e164 IS NOT NULL ORDER BY code");
			expect(phones).toEqual([{ phoneE164: "+447700900124" }, { phoneE164: "+447700900123" }]);
		} finally {
			await store.remove();
		}
	});

	it("take e-mail addresses in small letters where a file has the column, and leave them as they are where it hasn't", async () => {
		const store = await newStore(kind);
		try {
			const importer = importerFor(store);
			await programmeBefore(importer, "people");
			const [header, ...rows] = FILES.people.trimEnd().split("\n");
			const emails = ["Vol@Example.org", "", "office@example.org"];
			const withEmail = [`${header},email`, ...rows.map((row, i) => `${row},${emails[i]}`)].join("\n");
			expect(await importer.importFile("people", bytesOf(withEmail))).toMatchObject({ added: 3 });
			const kept = [{ email: "office@example.org" }, { email: null }, { email: "vol@example.org" }];
			expect(await store.query("SELECT email FROM person ORDER BY code")).toEqual(kept);
			expect(await importer.importFile("people", bytesOf(FILES.people))).toMatchObject({ added: 0 });
			expect(await store.query("SELECT email FROM person ORDER BY code")).toEqual(kept);
			const wrong = await importer.importFile("people", bytesOf(withEmail.replace("office@", "office")));
			expect(problemsIn(wrong)).toEqual(["line 4, column email: must be an e-mail address, such as name@example.org"]);
		} finally {
			await store.remove();
		}
	});
});
