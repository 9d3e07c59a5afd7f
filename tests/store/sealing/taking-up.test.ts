import { readFileSync } from "node:fs";
import { Client } from "pg";
import { migrations } from "../../../migrations/index.js";
import { entities } from "../../../src/entities.js";
import { Blind } from "../../../src/store/sealing/blind.js";
import { blindOfColumn } from "../../../src/store/sealing/envelope.js";
import { Keyring } from "../../../src/store/sealing/keyring.js";
import { resealedAll } from "../../../src/store/sealing/resealed-all.js";
import { among } from "../../../src/store/sql.js";
import { Store } from "../../../src/store/store.js";
import { type DatabaseKind, newDatabase, onEachDatabase, TEST_KEY, TEST_KEYS } from "../../support/stores.js";

const OTHER_KEY = Buffer.alloc(32, 9).toString("base64");
const RELEASED = migrations.filter(({ name }) => Number(/\d+$/.exec(name)?.[0]) <= 1764000008000);
const PEOPLE = 1203;

onEachDatabase("personal values in a database of an earlier release", (kind) => {
	const at = (location: string) => ({ location, entities, migrations });
	const phone = (n: number) => `+44770090${String(n).padStart(4, "0")}`;

	async function earlier(): Promise<{ location: string; remove: () => Promise<void> }> {
		const database = await newDatabase(kind);
		const store = await Store.open({ location: database.location, entities: [], migrations: RELEASED });
		await store.work.run(async (tx) => {
			await tx.query(
				"INSERT INTO area (id, code, name, time_zone, latitude_deg, longitude_deg, altitude_m, climate) VALUES ('a', 'A', 'Invented', 'UTC', 0, 0, 0, '[]')",
			);
			await tx.insert(
				"person",
				[
					"id",
					"code",
					"role",
					"name",
					"phone_e164",
					"email",
					"language",
					"area_id",
					"working_days",
					"quiet_from",
					"quiet_until",
					"channels",
					"active",
				],
				Array.from({ length: PEOPLE }, (_, n) => [
					...[`p${n}`, `P${n}`, "volunteer", `Zawadi Invented ${n}`, phone(n), `zawadi${n}@example.org`, "en", "a"],
					...["[1]", "20:00", "06:00", "[]", true],
				]),
			);
			await tx.insert(
				"push_subscription",
				["id", "person_id", "endpoint", "p256dh", "auth", "created_at_ms"],
				[0, 1].map((n) => [`s${n}`, "p0", `https://push.example.org/a-long-path-to/${n}`, "key", "auth", 0]),
			);
		});
		await store.close();
		return database;
	}

	it("are sealed when this release opens it, found as before, and lie open nowhere in the file", async () => {
		const database = await earlier();
		const store = await Store.open({ ...at(database.location), keys: TEST_KEYS });
		expect(store.newlySealed).toBe(PEOPLE * 3 + 2 * 3);
		expect(await store.query("SELECT code, name, email FROM person WHERE id = 'p7'")).toEqual([
			{ code: "P7", name: "Zawadi Invented 7", email: "zawadi7@example.org" },
		]);
		const found = (column: string, value: Blind) =>
			store.query(`SELECT code FROM person WHERE ${blindOfColumn(column)} ${among(store.kind, "$1")}`, [value]);
		expect(await found("phone_e164", new Blind("address", phone(7)))).toEqual([{ code: "P7" }]);
		expect(await found("email", new Blind("address", "Zawadi7@Example.org"))).toEqual([{ code: "P7" }]);
		await store.close();
		expect(await lying(kind, database.location, ["Zawadi", "7700900", "zawadi", "push.example.org"])).toEqual([]);
		const again = await Store.open({ ...at(database.location), keys: TEST_KEYS });
		expect(again.newlySealed).toBe(0);
		await again.close();
		await database.remove();
	});

	it("are sealed to the end at the next start where the first one was stopped in the middle", async () => {
		const database = await earlier();
		const store = await Store.open(at(database.location));
		const sealed = TEST_KEYS.seal("person.name", "Zawadi Invented 0", "name");
		await store.work.run((tx) => tx.query("UPDATE person SET name = $1 WHERE id = 'p0'", [sealed]));
		await store.close();
		const after = await Store.open({ ...at(database.location), keys: TEST_KEYS });
		expect(after.newlySealed).toBe(PEOPLE * 3 + 2 * 3 - 1);
		expect(await after.query("SELECT name FROM person WHERE id IN ('p0', 'p1') ORDER BY id")).toEqual([
			{ name: "Zawadi Invented 0" },
			{ name: "Zawadi Invented 1" },
		]);
		await after.close();
		await database.remove();
	});

	it("are refused by the database itself from then on where anybody writes them open", async () => {
		const database = await earlier();
		await (await Store.open({ ...at(database.location), keys: TEST_KEYS })).close();
		const unsealed = await Store.open(at(database.location));
		for (const set of ["name = 'Zawadi'", "phone_e164 = '+447700900123'"])
			await expect(unsealed.work.run((tx) => tx.query(`UPDATE person SET ${set} WHERE id = 'p1'`))).rejects.toThrow(
				/takes sealed values only/,
			);
		await unsealed.work.run((tx) => tx.query("UPDATE person SET name = '', email = NULL WHERE id = 'p1'"));
		await unsealed.close();
		await database.remove();
	});

	it("can't be opened under another key: the start is refused and says which key is missing", async () => {
		const database = await earlier();
		await (await Store.open({ ...at(database.location), keys: TEST_KEYS })).close();
		await expect(Store.open({ ...at(database.location), keys: new Keyring([OTHER_KEY]) })).rejects.toMatchObject({
			code: "data-key-wrong",
			message: expect.stringContaining(TEST_KEYS.ids[0] as string),
		});
		await database.remove();
	});

	it("go over to a new key: opened under both meanwhile, under the new one alone once they were sealed anew", async () => {
		const database = await earlier();
		await (await Store.open({ ...at(database.location), keys: TEST_KEYS })).close();
		const both = await Store.open({ ...at(database.location), keys: new Keyring([OTHER_KEY, TEST_KEY]) });
		expect(await both.query("SELECT name FROM person WHERE id = 'p5'")).toEqual([{ name: "Zawadi Invented 5" }]);
		const byPhone = `SELECT code FROM person WHERE ${blindOfColumn("phone_e164")} ${among(both.kind, "$1")}`;
		expect(await both.query(byPhone, [new Blind("address", phone(5))])).toEqual([{ code: "P5" }]);
		expect(await resealedAll(both)).toBe(PEOPLE * 3 + 2 * 3);
		expect(await resealedAll(both)).toBe(0);
		await both.close();
		const after = await Store.open({ ...at(database.location), keys: new Keyring([OTHER_KEY]) });
		expect(await after.query(byPhone, [new Blind("address", phone(5))])).toEqual([{ code: "P5" }]);
		expect(await after.query("SELECT endpoint FROM push_subscription ORDER BY id")).toHaveLength(2);
		await after.close();
		await expect(Store.open({ ...at(database.location), keys: TEST_KEYS })).rejects.toMatchObject({ code: "data-key-wrong" });
		await database.remove();
	});
});

/** @returns which of the texts lie in the database: in the bytes of its files, or in what its tables answer */
async function lying(kind: DatabaseKind, location: string, texts: readonly string[]): Promise<string[]> {
	if (kind === "sqlite") {
		const bytes = readFileSync(location).toString("latin1");
		return texts.filter((text) => bytes.includes(text));
	}
	const client = new Client({ connectionString: location });
	await client.connect();
	const dumps = await Promise.all(["person", "push_subscription"].map((table) => client.query(`SELECT * FROM ${table}`)));
	await client.end();
	const dump = JSON.stringify(dumps.map(({ rows }) => rows));
	return texts.filter((text) => dump.includes(text));
}
